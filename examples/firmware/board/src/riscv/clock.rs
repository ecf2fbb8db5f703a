//! The tick source: the machine timer at 10 MHz (RISC-V privileged architecture, 3.2.1).

use core::sync::atomic::{AtomicU32, Ordering};

use bellwire::time::Instant;

use crate::register::Register;

const COMPARE: [Register; 2] = [Register::at(0x0200_4000), Register::at(0x0200_4004)];
const TIME: [Register; 2] = [Register::at(0x0200_BFF8), Register::at(0x0200_BFFC)];

/// One tick, µs: the time stands still between two ticks, and so does everything that is decided by it.
pub const TICK_MICROS: u32 = 1_000;
/// One tick in counts of the timer.
const TICK_COUNTS: u64 = 10_000;

/// The last tick, µs. Written by the trap alone.
static TICK: AtomicU32 = AtomicU32::new(0);

pub(super) fn start() {
    let [low, high] = TIME;
    // The upper half is read twice: it must not step while the lower one is read.
    let time = loop {
        let before = high.read();
        let time = u64::from(before) << 32 | u64::from(low.read());
        if high.read() == before {
            break time;
        }
    };
    set_compare(time.wrapping_add(TICK_COUNTS));
}

/// Microseconds since the start, wrapping, in steps of a tick.
#[must_use]
pub fn now() -> Instant {
    Instant::from_ticks(TICK.load(Ordering::Relaxed))
}

/// A tick has passed. The next comparison counts from this one, so that a late interrupt loses no time: the trap comes again at once.
pub(super) fn handle_interrupt() {
    let [low, high] = COMPARE.map(Register::read);
    TICK.store(TICK.load(Ordering::Relaxed).wrapping_add(TICK_MICROS), Ordering::Relaxed);
    set_compare((u64::from(high) << 32 | u64::from(low)).wrapping_add(TICK_COUNTS));
}

/// Sets the comparison so that no half of it matches by itself.
fn set_compare(time: u64) {
    let [low, high] = COMPARE;
    high.write(u32::MAX);
    low.write((time & 0xFFFF_FFFF) as u32);
    high.write((time >> 32) as u32);
}
