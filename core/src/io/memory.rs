//! A line without a wire.

use core::convert::Infallible;

use super::{Line, Taken};
use crate::time::Instant;

/// The octets that found no room.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Full {
    /// How many of them.
    pub octets: usize,
}

/// A line whose two ends are in memory: what the board puts waits in one queue, what it takes comes from another, `N` octets each.
///
/// The program around it plays the wire: see [`Memory::arrive`] and [`Memory::depart`]. One pair of these and a loop that carries octets between
/// them are a wire that can lose, damage and delay.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Memory<const N: usize> {
    incoming: heapless::Deque<(u8, Instant), N>,
    outgoing: heapless::Deque<u8, N>,
}

impl<const N: usize> Default for Memory<N> {
    fn default() -> Self {
        Self::new()
    }
}

impl<const N: usize> Memory<N> {
    /// A line with nothing on it.
    #[must_use]
    pub const fn new() -> Self {
        Self { incoming: heapless::Deque::new(), outgoing: heapless::Deque::new() }
    }

    /// Lets octets arrive at the board, stamped `arrived`.
    ///
    /// # Errors
    /// [`Full`]: so many of them found no room and are lost, as in an overrun.
    pub fn arrive(&mut self, arrived: Instant, octets: &[u8]) -> Result<(), Full> {
        let lost = octets.iter().filter(|&&octet| self.incoming.push_back((octet, arrived)).is_err()).count();
        if lost == 0 { Ok(()) } else { Err(Full { octets: lost }) }
    }

    /// The next octet that the board has put out.
    pub fn depart(&mut self) -> Option<u8> {
        self.outgoing.pop_front()
    }
}

impl<const N: usize> Line for Memory<N> {
    type Error = Infallible;

    fn take(&mut self, now: Instant, into: &mut [u8]) -> Result<Taken, Self::Error> {
        // Only octets of one stamp: the age of each stays exact.
        let arrived = self.incoming.front().map_or(now, |&(_, arrived)| arrived);
        let mut octets = 0_usize;
        for cell in into {
            match self.incoming.front() {
                Some(&(octet, stamp)) if stamp == arrived => *cell = octet,
                _ => break,
            }
            self.incoming.pop_front();
            octets = octets.saturating_add(1);
        }
        Ok(Taken { octets, arrived })
    }

    fn put(&mut self, octets: &[u8]) -> Result<usize, Self::Error> {
        Ok(octets.iter().take_while(|&&octet| self.outgoing.push_back(octet).is_ok()).count())
    }

    fn unsent(&self) -> Option<usize> {
        Some(self.outgoing.len())
    }
}
