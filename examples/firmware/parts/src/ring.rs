//! A queue between one interrupt and one loop, without locks.

use core::sync::atomic::{AtomicU8, AtomicU32, Ordering};

/// A queue of stamped octets, `N` cells (a power of two), between one side that only puts and one side that only takes.
///
/// Loads and stores suffice, so that it serves processors without atomic exchange. Each count is written by one side alone and wraps; their
/// difference is what waits. A stamp is the time of arrival in microseconds; where nobody asks for it, it is zero.
#[derive(Debug)]
pub struct Ring<const N: usize> {
    octets: [AtomicU8; N],
    stamps: [AtomicU32; N],
    /// Octets put so far.
    put: AtomicU32,
    /// Octets taken so far.
    taken: AtomicU32,
}

impl<const N: usize> Ring<N> {
    /// An empty queue.
    #[must_use]
    pub const fn new() -> Self {
        const { assert!(N.is_power_of_two() && N <= 0x8000, "a power of two") };
        Self {
            octets: [const { AtomicU8::new(0) }; N],
            stamps: [const { AtomicU32::new(0) }; N],
            put: AtomicU32::new(0),
            taken: AtomicU32::new(0),
        }
    }

    fn cell(&self, count: u32) -> Option<(&AtomicU8, &AtomicU32)> {
        let place = count as usize & (N.wrapping_sub(1));
        Some((self.octets.get(place)?, self.stamps.get(place)?))
    }

    /// How many octets wait.
    #[must_use]
    pub fn len(&self) -> usize {
        self.put.load(Ordering::Acquire).wrapping_sub(self.taken.load(Ordering::Acquire)) as usize
    }

    /// Whether none waits.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Puts an octet; `false` if there is no room: then the octet is lost. For the putting side alone.
    #[must_use]
    pub fn put(&self, octet: u8, stamp: u32) -> bool {
        let count = self.put.load(Ordering::Relaxed);
        if self.len() >= N {
            return false;
        }
        if let Some((cell, stamped)) = self.cell(count) {
            cell.store(octet, Ordering::Relaxed);
            stamped.store(stamp, Ordering::Relaxed);
        }
        // The cell is written before the count says so.
        self.put.store(count.wrapping_add(1), Ordering::Release);
        true
    }

    /// The oldest octet and its stamp; it stays in the queue. For the taking side alone.
    #[must_use]
    pub fn peek(&self) -> Option<(u8, u32)> {
        if self.is_empty() {
            return None;
        }
        let (cell, stamped) = self.cell(self.taken.load(Ordering::Relaxed))?;
        Some((cell.load(Ordering::Relaxed), stamped.load(Ordering::Relaxed)))
    }

    /// Takes the oldest octet and its stamp. For the taking side alone.
    pub fn take(&self) -> Option<(u8, u32)> {
        let oldest = self.peek()?;
        let count = self.taken.load(Ordering::Relaxed);
        self.taken.store(count.wrapping_add(1), Ordering::Release);
        Some(oldest)
    }
}

impl<const N: usize> Default for Ring<N> {
    fn default() -> Self {
        Self::new()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::VecDeque;

    #[test]
    fn it_is_a_queue_and_says_when_it_is_full() {
        let ring = Ring::<8>::new();
        let mut model: VecDeque<(u8, u32)> = VecDeque::new();
        let mut state = 1_u32;
        for step in 0..10_000_u32 {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            if state >> 31 == 0 {
                let cell = (state.to_be_bytes()[1], step);
                let fits = model.len() < 8;
                assert_eq!(ring.put(cell.0, cell.1), fits);
                if fits {
                    model.push_back(cell);
                }
            } else {
                assert_eq!(ring.peek(), model.front().copied());
                assert_eq!(ring.take(), model.pop_front());
            }
            assert_eq!(ring.len(), model.len());
        }
    }

    #[test]
    fn two_threads_lose_nothing_and_keep_the_order() {
        let ring = Ring::<16>::new();
        std::thread::scope(|scope| {
            scope.spawn(|| {
                for count in 0..50_000_u32 {
                    while !ring.put(count.to_le_bytes()[0], count) {
                        std::thread::yield_now();
                    }
                }
            });
            for count in 0..50_000_u32 {
                let cell = loop {
                    match ring.take() {
                        Some(cell) => break cell,
                        None => std::thread::yield_now(),
                    }
                };
                assert_eq!(cell, (count.to_le_bytes()[0], count));
            }
        });
    }
}
