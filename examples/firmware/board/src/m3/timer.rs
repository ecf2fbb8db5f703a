//! The timer that makes the ticks: general-purpose timer 0, 32 bits, again and again.

use crate::{cortex, register::Register};

const BASE: u32 = 0x4003_0000;
const CONFIGURATION: Register = Register::at(BASE);
const MODE: Register = Register::at(BASE + 0x004);
const CONTROL: Register = Register::at(BASE + 0x00C);
const ENABLE: Register = Register::at(BASE + 0x018);
const CLEAR: Register = Register::at(BASE + 0x024);
const RELOAD: Register = Register::at(BASE + 0x028);

/// Its interrupt.
pub(super) const INTERRUPT: i16 = 19;

/// Starts it: an interrupt every so many counts.
pub(super) fn start(counts: u32) {
    CONFIGURATION.write(0);
    MODE.write(2);
    RELOAD.write(counts.wrapping_sub(1));
    ENABLE.write(1);
    cortex::enable(INTERRUPT.cast_unsigned().into());
    CONTROL.write(1);
}

pub(super) fn handle_interrupt() {
    CLEAR.write(1);
}
