//! The tick source: TIMER0, the only one of the three with 32 bits, at 1 MHz.

use core::sync::atomic::{AtomicU32, Ordering};

use bellwire::time::Instant;

use crate::{cortex, register::Register};

const BASE: u32 = 0x4000_8000;
const START: Register = Register::at(BASE);
const CAPTURE_1: Register = Register::at(BASE + 0x044);
const COMPARED_0: Register = Register::at(BASE + 0x140);
const INTENSET: Register = Register::at(BASE + 0x304);
const BITMODE: Register = Register::at(BASE + 0x508);
const PRESCALER: Register = Register::at(BASE + 0x510);
const CC_0: Register = Register::at(BASE + 0x540);
const CC_1: Register = Register::at(BASE + 0x544);

/// One tick, µs: the time stands still between two ticks, and so does everything that is decided by it.
pub const TICK_MICROS: u32 = 1_000;

/// The last tick, µs. Written by the interrupt alone.
static TICK: AtomicU32 = AtomicU32::new(0);

pub(super) fn start() {
    BITMODE.write(3);
    PRESCALER.write(4);
    CC_0.write(TICK_MICROS);
    INTENSET.write(1 << 16);
    cortex::enable(8);
    START.write(1);
}

/// Microseconds since the start, wrapping, in steps of a tick.
#[must_use]
pub fn now() -> Instant {
    Instant::from_ticks(TICK.load(Ordering::Relaxed))
}

/// A tick has passed, or several: a late interrupt loses no time, for time that stands still makes old news look fresh.
pub(super) fn handle_interrupt() {
    COMPARED_0.write(0);
    loop {
        let tick = TICK.load(Ordering::Relaxed);
        CAPTURE_1.write(1);
        if CC_1.read().wrapping_sub(tick) < TICK_MICROS {
            return;
        }
        let tick = tick.wrapping_add(TICK_MICROS);
        TICK.store(tick, Ordering::Relaxed);
        // The counter is looked at once more after this, so that no comparison is missed.
        CC_0.write(tick.wrapping_add(TICK_MICROS));
    }
}
