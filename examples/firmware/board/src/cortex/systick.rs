//! The clock of boards whose system timer is there (ARMv7-M manual, B3.3): it runs freely over its 24 bits, and another timer makes the ticks.
//!
//! With the system timer's own interrupt as the tick, ticks would be lost while interrupts are off: one waits, not two.

use core::sync::atomic::{AtomicU32, Ordering};

use bellwire::time::Instant;

use crate::register::Register;

const CONTROL: Register = Register::at(0xE000_E010);
const RELOAD: Register = Register::at(0xE000_E014);
const CURRENT: Register = Register::at(0xE000_E018);

/// One tick, µs: the time stands still between two ticks, and so does everything that is decided by it.
pub const TICK_MICROS: u32 = 1_000;
/// The counter has 24 bits, and counts down.
const ALL: u32 = 0x00FF_FFFF;

/// The last tick, µs. Written by the interrupt alone.
static TICK: AtomicU32 = AtomicU32::new(0);
/// What the counter showed at the last tick. Written by the interrupt alone, after the start.
static SHOWN: AtomicU32 = AtomicU32::new(ALL);

/// Starts the counter. Start the timer that calls [`handle_tick`] once a millisecond behind this, so that each of its interrupts comes after its tick.
pub(crate) fn start() {
    RELOAD.write(ALL);
    CURRENT.write(0);
    CONTROL.write(0b101);
    SHOWN.store(CURRENT.read(), Ordering::Relaxed);
}

/// Microseconds since the start, wrapping, in steps of a tick.
#[must_use]
pub fn now() -> Instant {
    Instant::from_ticks(TICK.load(Ordering::Relaxed))
}

/// A tick has passed, or several; one has `counts` of the counter. A late interrupt loses no time, for time that stands still makes old news look
/// fresh: not while it is less late than the counter is long, 1.3 s at 12.5 MHz.
pub(crate) fn handle_tick(counts: u32) {
    while counted(SHOWN.load(Ordering::Relaxed)) >= counts {
        SHOWN.store(SHOWN.load(Ordering::Relaxed).wrapping_sub(counts) & ALL, Ordering::Relaxed);
        TICK.store(TICK.load(Ordering::Relaxed).wrapping_add(TICK_MICROS), Ordering::Relaxed);
    }
}

/// Holds all interrupts off for so many ticks, of `counts` each: at most what the counter can count.
pub(crate) fn hear_nothing(ticks: u32, counts: u32) {
    super::undisturbed(|| {
        let shown = CURRENT.read();
        while counted(shown) < ticks.wrapping_mul(counts) {}
    });
}

/// What the counter has counted since it showed this.
fn counted(shown: u32) -> u32 {
    shown.wrapping_sub(CURRENT.read()) & ALL
}
