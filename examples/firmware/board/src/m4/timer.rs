//! The timer that makes the ticks: timer 0 of the design kit.

use crate::{cortex, register::Register};

const BASE: u32 = 0x4000_0000;
const CONTROL: Register = Register::at(BASE);
const VALUE: Register = Register::at(BASE + 0x004);
const RELOAD: Register = Register::at(BASE + 0x008);
const CLEAR: Register = Register::at(BASE + 0x00C);

/// Its interrupt.
pub(super) const INTERRUPT: i16 = 8;

/// Starts it: an interrupt every so many counts.
pub(super) fn start(counts: u32) {
    RELOAD.write(counts.wrapping_sub(1));
    VALUE.write(counts.wrapping_sub(1));
    cortex::enable(INTERRUPT.cast_unsigned().into());
    // On, with its interrupt.
    CONTROL.write(0b1001);
}

pub(super) fn handle_interrupt() {
    CLEAR.write(1);
}
