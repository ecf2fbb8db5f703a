//! Radios and sockets that carry whole frames.

use super::{Line, Taken};
use crate::time::Instant;

/// Whether a datagram can be sent now.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Medium {
    /// It can.
    Free,
    /// The last one is still going out, the channel is taken, or the duty limit is reached: try again later.
    Busy,
}

/// A received datagram.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Received {
    /// Octets put into the buffer. A longer datagram is cut to the buffer; its frame check then fails.
    pub octets: usize,
    /// When it arrived.
    pub arrived: Instant,
    /// How strong it was received, dBm (0 dBm = 1 mW; -30 is near, -120 is far), if the radio tells.
    pub strength: Option<i16>,
}

/// A radio or socket that carries datagrams, without waiting.
///
/// A datagram may get lost, doubled, late or out of order; nothing is said about that here. Nothing may be damaged silently beyond
/// what the frame check finds.
pub trait Datagram {
    /// What can go wrong.
    type Error;

    /// Starts to send one datagram, or says that it cannot now ([`Medium::Busy`]: nothing was sent).
    ///
    /// # Errors
    /// If the radio is gone or broken.
    fn send(&mut self, datagram: &[u8]) -> Result<Medium, Self::Error>;

    /// Takes one received datagram, if one is there. Stamp it in the interrupt if you can, else give `now`.
    ///
    /// # Errors
    /// If the radio is gone or broken.
    fn receive(&mut self, now: Instant, into: &mut [u8]) -> Result<Option<Received>, Self::Error>;

    /// Whether [`send`](Datagram::send) would be refused now.
    fn medium(&self) -> Medium {
        Medium::Free
    }
}

impl<D: Datagram + ?Sized> Datagram for &mut D {
    type Error = D::Error;

    fn send(&mut self, datagram: &[u8]) -> Result<Medium, Self::Error> {
        D::send(self, datagram)
    }

    fn receive(&mut self, now: Instant, into: &mut [u8]) -> Result<Option<Received>, Self::Error> {
        D::receive(self, now, into)
    }

    fn medium(&self) -> Medium {
        D::medium(self)
    }
}

/// A line of whole datagrams: each [`take`](Line::take) gives one, each [`put`](Line::put) sends one. For the datagram framing only.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Whole<D> {
    radio: D,
    strength: Option<i16>,
}

impl<D> Whole<D> {
    /// A line over `radio`.
    #[must_use]
    pub const fn new(radio: D) -> Self {
        Self { radio, strength: None }
    }

    /// The radio.
    #[must_use]
    pub const fn radio(&self) -> &D {
        &self.radio
    }

    /// The radio, to set it up or put it to sleep.
    #[must_use]
    pub const fn radio_mut(&mut self) -> &mut D {
        &mut self.radio
    }

    /// How strong the last datagram was received, dBm, if the radio tells.
    #[must_use]
    pub const fn strength(&self) -> Option<i16> {
        self.strength
    }
}

impl<D: Datagram> Line for Whole<D> {
    type Error = D::Error;

    fn take(&mut self, now: Instant, into: &mut [u8]) -> Result<Taken, Self::Error> {
        match self.radio.receive(now, into)? {
            Some(received) => {
                self.strength = received.strength;
                Ok(Taken { octets: received.octets.min(into.len()), arrived: received.arrived })
            }
            None => Ok(Taken { octets: 0, arrived: now }),
        }
    }

    fn put(&mut self, octets: &[u8]) -> Result<usize, Self::Error> {
        if self.radio.medium() == Medium::Busy {
            return Ok(0);
        }
        match self.radio.send(octets)? {
            Medium::Free => Ok(octets.len()),
            Medium::Busy => Ok(0),
        }
    }

    fn unsent(&self) -> Option<usize> {
        match self.radio.medium() {
            Medium::Free => Some(0),
            Medium::Busy => None,
        }
    }
}
