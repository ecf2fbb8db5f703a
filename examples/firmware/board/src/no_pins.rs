//! Outputs of an emulated machine whose pins are not there: a word in memory stands for the port.

use core::sync::atomic::{AtomicU32, Ordering};

static PORT: AtomicU32 = AtomicU32::new(0);

/// Loop and fault handler write it, and the latter never returns: loads and stores suffice.
pub(crate) fn set(outputs: u32) {
    PORT.store(PORT.load(Ordering::Relaxed) | outputs, Ordering::Relaxed);
}

pub(crate) fn clear(outputs: u32) {
    PORT.store(PORT.load(Ordering::Relaxed) & !outputs, Ordering::Relaxed);
}

pub(crate) fn read() -> u32 {
    PORT.load(Ordering::Relaxed)
}
