//! An octet stream that never waits.

use crate::time::Instant;

/// What a line gave.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Taken {
    /// Octets put into the buffer; zero: none were there.
    pub octets: usize,
    /// When they arrived, the first of them if at different times: the freshness of set-points counts from here.
    pub arrived: Instant,
}

/// An octet stream that never waits: a UART, a pseudo-terminal, a socket.
///
/// # For who implements it
/// - Stamp octets in the receive interrupt if you can. Octets of different age must come from different calls, or carry the stamp of
///   the oldest. Without stamps give `now`; then freshness counts from the reading, so the time between two calls adds to the age of a set-point.
/// - Never wait, neither for octets nor for room.
/// - Keep no large queue between this line and the wire: a set-point in it grows old. Tell what waits in it by [`unsent`](Line::unsent).
pub trait Line {
    /// What can go wrong.
    type Error;

    /// Takes octets that are there, without waiting. Overrun and line errors of the hardware are no errors here: drop the octets, the frame
    /// check finds the hole.
    ///
    /// # Errors
    /// If the line is gone or broken.
    fn take(&mut self, now: Instant, into: &mut [u8]) -> Result<Taken, Self::Error>;

    /// Puts out as many of the octets as there is room for now; gives how many, zero if none.
    ///
    /// # Errors
    /// If the line is gone or broken.
    fn put(&mut self, octets: &[u8]) -> Result<usize, Self::Error>;

    /// Octets taken by [`put`](Line::put) that have not left yet; `None` if that cannot be known.
    fn unsent(&self) -> Option<usize> {
        None
    }
}

impl<L: Line + ?Sized> Line for &mut L {
    type Error = L::Error;

    fn take(&mut self, now: Instant, into: &mut [u8]) -> Result<Taken, Self::Error> {
        L::take(self, now, into)
    }

    fn put(&mut self, octets: &[u8]) -> Result<usize, Self::Error> {
        L::put(self, octets)
    }

    fn unsent(&self) -> Option<usize> {
        L::unsent(self)
    }
}
