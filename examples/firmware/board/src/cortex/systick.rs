//! The tick source of boards whose system timer is there (ARMv7-M manual, B3.3).

use core::sync::atomic::{AtomicU32, Ordering};

use bellwire::time::Instant;
use cortex_m_rt::exception;

use crate::register::Register;

const CONTROL: Register = Register::at(0xE000_E010);
const RELOAD: Register = Register::at(0xE000_E014);
const CURRENT: Register = Register::at(0xE000_E018);

/// One tick, µs: the time stands still between two ticks, and so does everything that is decided by it.
pub const TICK_MICROS: u32 = 1_000;

/// The last tick, µs. Written by the interrupt alone.
static TICK: AtomicU32 = AtomicU32::new(0);

/// Starts the ticks; `clock` is what the timer counts, MHz times 1000.
pub(crate) fn start(clock: u32) {
    RELOAD.write(clock.wrapping_sub(1));
    CURRENT.write(0);
    CONTROL.write(0b111);
}

/// Microseconds since the start, wrapping, in steps of a tick.
#[must_use]
pub fn now() -> Instant {
    Instant::from_ticks(TICK.load(Ordering::Relaxed))
}

/// A tick has passed. The timer keeps one tick that waits; with interrupts off for longer than that, time is lost, and time that stands still makes
/// old news look fresh: such a board needs a counter that runs freely, as `m0` has.
#[exception]
fn SysTick() {
    TICK.store(TICK.load(Ordering::Relaxed).wrapping_add(TICK_MICROS), Ordering::Relaxed);
}
