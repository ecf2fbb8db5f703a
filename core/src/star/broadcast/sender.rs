//! The hub's side: frames to all, out.

use heapless::Vec;

use super::{BITS, Told};
use crate::{
    fcs::Fcs,
    frame::{Addresses, Class, Header, MessageNumber, write},
    framing::{Framing, Lead},
    rules::holds,
    seq::Serial,
    time::Duration,
    window::Pace,
};

/// The most frames to all in any two lifetimes (W-70), as for set-points (W-45).
const MOST: u8 = 127;

/// Why a message to all was not accepted. It was not sent, for certain.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum BroadcastError {
    /// Nobody could confirm it for all: only set-points and notices go to all.
    Confirmed,
    /// As many messages wait as there is room for.
    QueueFull,
    /// The payload is longer than this.
    TooLong {
        /// Octets that there is room for, message number included.
        limit: u16,
    },
    /// The payload does not begin with a message number in its shortest form (W-18).
    BadMessageNumber,
}

impl core::fmt::Display for BroadcastError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Confirmed => f.write_str(
                "not sent: only set-points and notices go to all; send an errand or report to each leaf",
            ),
            Self::QueueFull => f.write_str("not sent: as many messages to all wait as there is room for"),
            Self::TooLong { limit } => {
                write!(f, "not sent: longer than the {limit} octets of a message to all")
            }
            Self::BadMessageNumber => f.write_str("not sent: the payload must begin with a message number"),
        }
    }
}

impl core::error::Error for BroadcastError {}

/// How an accepted message waits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Waits {
    /// Behind the others.
    Queued,
    /// In the place of an older set-point with its message number, which will not be sent any more (W-43).
    InPlaceOfOlder,
    /// A set-point in the place of the oldest notice, which is dropped: the queue was full.
    InPlaceOfNotice,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
struct Waiting<const OCTETS: usize> {
    is_set_point: bool,
    payload: Vec<u8, OCTETS>,
}

impl<const OCTETS: usize> Waiting<OCTETS> {
    fn is_set_point_of(&self, message: MessageNumber) -> bool {
        self.is_set_point && MessageNumber::split(&self.payload).is_ok_and(|(other, _)| other == message)
    }
}

/// What the hub sends to all leaves at once: at most `QUEUE` messages of at most `OCTETS` octets wait.
///
/// # Grammar
/// [`send`](Self::send) a message at any time; while [`poll_wait`](Self::poll_wait) gives zero and the medium is the hub's, put out what
/// [`poll_transmit`](Self::poll_transmit) gives (on a shared wire then call [`Turn::told_all`](super::super::Turn::told_all)); [`elapse`](Self::elapse) time.
/// After each opening with a leaf, and when a leaf asks with an empty TO ALL, send that leaf a TO ALL with the body of [`tell`](Self::tell).
///
/// Set-points go first, newest wins, but after one of them a notice that waits. Nothing is ever sent twice: a hung program must not look alive.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct BroadcastSender<const OCTETS: usize, const QUEUE: usize> {
    number: u32,
    next: Serial,
    /// The lifetime of a frame (L), µs; 0 on ordered links.
    lifetime: u32,
    #[cfg_attr(feature = "defmt", defmt(Debug2Format))]
    pace: Pace,
    notices_turn: bool,
    waiting: Vec<Waiting<OCTETS>, QUEUE>,
}

impl<const OCTETS: usize, const QUEUE: usize> BroadcastSender<OCTETS, QUEUE> {
    /// Nothing waits. `boot`: a number that is new at each start of the hub, of which the low 18 bits count; its own number (W-22) will do. `lifetime`: that
    /// of a frame (L); zero on ordered links.
    #[must_use]
    pub fn new(boot: u32, lifetime: Duration) -> Self {
        Self {
            number: boot & BITS,
            next: Serial::default(),
            lifetime: lifetime.as_ticks(),
            pace: Pace::default(),
            notices_turn: false,
            waiting: Vec::new(),
        }
    }

    /// The broadcast number, 0..=0x3FFFF.
    #[must_use]
    pub const fn number(&self) -> u32 {
        self.number
    }

    /// What to tell a leaf whose session has this number ([`Peer::session`](crate::link::Peer::session)).
    #[must_use]
    pub const fn tell(&self, session: u32) -> Told {
        Told { session: session & BITS, broadcast: self.number, next: self.next.get() }
    }

    /// Accepts a set-point or notice; `payload` begins with the message number (W-18).
    ///
    /// # Errors
    /// Why it was not accepted: then it is certain that it was not sent.
    pub fn send(&mut self, class: Class, payload: &[u8]) -> Result<Waits, BroadcastError> {
        if class.is_confirmed() {
            return Err(BroadcastError::Confirmed);
        }
        let (message, _) = MessageNumber::split(payload).map_err(|_| BroadcastError::BadMessageNumber)?;
        let limit = u16::try_from(OCTETS).unwrap_or(u16::MAX);
        let payload = Vec::from_slice(payload).map_err(|_| BroadcastError::TooLong { limit })?;
        let is_set_point = class == Class::SetPoint;
        let older = self.waiting.iter_mut().find(|other| is_set_point && other.is_set_point_of(message));
        if let Some(older) = older {
            older.payload = payload;
            return Ok(Waits::InPlaceOfOlder);
        }
        let notice = self.waiting.iter().position(|other| !other.is_set_point);
        let displaced = notice.filter(|_| is_set_point && self.waiting.is_full());
        if let Some(place) = displaced {
            self.waiting.remove(place);
        }
        self.waiting.push(Waiting { is_set_point, payload }).map_err(|_| BroadcastError::QueueFull)?;
        Ok(if displaced.is_some() { Waits::InPlaceOfNotice } else { Waits::Queued })
    }

    /// How long until a message may be sent, as far as the numbers go; `None` if none waits.
    #[must_use]
    pub fn poll_wait(&self) -> Option<Duration> {
        if self.waiting.is_empty() {
            None
        } else if self.lifetime == 0 || self.pace.is_open(MOST) || !holds(70) {
            Some(Duration::from_ticks(0))
        } else {
            Some(self.pace.left())
        }
    }

    /// Writes the next message to all into `out` as a frame of `framing`, the one of the medium without addresses (those are put in here: not
    /// [`Addressed`](super::super::Addressed)); gives its length. `lead` as for [`write()`]. A frame that does not fit is given as no octets, as if it were lost.
    pub fn poll_transmit<F: Framing, C: Fcs>(
        &mut self,
        framing: &F,
        lead: Lead,
        out: &mut [u8],
    ) -> Option<usize> {
        self.poll_wait().filter(|wait| wait.as_ticks() == 0)?;
        let first = |is_set_point| self.waiting.iter().position(|other| other.is_set_point == is_set_point);
        let place = match (self.notices_turn, first(true), first(false)) {
            (true, _, Some(notice)) | (_, None, Some(notice)) => notice,
            (_, set_point, _) => set_point?,
        };
        let Waiting { is_set_point, payload } = self.waiting.remove(place);
        self.notices_turn = is_set_point;
        let class = if is_set_point { Class::SetPoint } else { Class::Notice };
        let header = Header {
            session: u8::try_from(self.number & 3).unwrap_or(0),
            tag: (!F::ORDERED).then(|| u16::try_from(self.number >> 2).unwrap_or(0)),
            addresses: Some(Addresses { to: 255, from: 0 }),
            number: self.next.take().get(),
            ..Header::new(class.kind())
        };
        if self.lifetime > 0 {
            self.pace.count(self.two_lifetimes());
        }
        Some(write::<F, C>(framing, &header, &payload, lead, out).unwrap_or(0))
    }

    const fn two_lifetimes(&self) -> Duration {
        Duration::from_ticks(self.lifetime.saturating_mul(2))
    }

    /// Time passes.
    pub fn elapse(&mut self, span: Duration) {
        self.pace.elapse(span, self.two_lifetimes());
    }
}
