//! What a link tells the application.

use crate::{
    frame::{Class, MessageNumber, Reject, ResetCause},
    stats::Counters,
    time::{Duration, Instant},
};

/// State of a link.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum State {
    /// No session.
    #[default]
    Down,
    /// A session, and the peer is heard.
    Up,
    /// A session, but the peer has been silent for longer than one and a half of its keep-alive periods.
    Quiet,
}

/// The other board, as its OPEN describes it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Peer {
    /// Its long name; 0: none.
    pub identity: u64,
    /// Fingerprint of its agreement; 0: none.
    pub fingerprint: u32,
    /// Why it last started.
    pub cause: ResetCause,
    /// It has neither storage nor randomness (W-36).
    pub numberless: bool,
    /// Window of the session: the smaller of both sides', 1..=8.
    pub window: u8,
    /// Largest payload of the session, octets, message number included: the smaller of both sides'.
    pub max_payload: u16,
    /// The longest silence it promises; zero: no promise.
    pub silence: Duration,
    /// The session number (W-23), 0..=0x3FFFF.
    pub session: u32,
}

impl core::hash::Hash for Peer {
    fn hash<H: core::hash::Hasher>(&self, state: &mut H) {
        let Self { identity, fingerprint, cause, numberless, window, max_payload, silence, session } = self;
        (identity, fingerprint, cause, numberless, window, max_payload, silence.as_ticks(), session)
            .hash(state);
    }
}

/// What both sides must have in common (W-30).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Terms {
    /// Wire version.
    pub version: u8,
    /// Fingerprint of the agreement; 0: none, or not known because the wire version differs.
    pub fingerprint: u32,
    /// The board's long name; 0: none, or not known because the wire version differs.
    pub identity: u64,
}

/// Why a session ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum EndReason {
    /// The peer has left the session: it restarted, or ended the session on its side. Why it last started stands beside.
    PeerRestarted(ResetCause),
    /// Nothing valid was heard for longer than the peer promised (W-33).
    Silence,
    /// Wire version or agreement differ (W-30).
    Mismatch,
    /// The application closed the link.
    Closed,
}

/// Names an item that was accepted for sending.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Ticket(pub(crate) u16);

impl Ticket {
    /// The ticket as a number: counts up from 0 and wraps after 65 536 items.
    #[must_use]
    pub const fn get(self) -> u16 {
        self.0
    }
}

/// What became of a confirmed item. Set-points and notices have no outcome.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Outcome {
    /// The receiving program had it, before any later restart of that board. It does not mean done.
    Delivered,
    /// Certain: it never left, because the session ended first.
    NotSent(EndReason),
    /// It may have arrived.
    Unknown,
}

/// Why an item was not accepted. It was not sent, for certain; the caller still has it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum SendError {
    /// The link is down.
    NotOpen,
    /// The queue is full.
    QueueFull,
    /// The payload is longer than the session allows.
    TooLong {
        /// Octets that the session allows, message number included.
        limit: u16,
    },
    /// The payload does not begin with a message number in its shortest form (W-18).
    BadMessageNumber,
}

impl core::fmt::Display for SendError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::NotOpen => f.write_str("not sent: the link is down"),
            Self::QueueFull => f.write_str("not sent: the queue is full"),
            Self::TooLong { limit } => write!(f, "not sent: longer than the {limit} octets of this session"),
            Self::BadMessageNumber => f.write_str("not sent: the payload must begin with a message number"),
        }
    }
}

impl core::error::Error for SendError {}

/// A message from the peer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Message<'a> {
    /// Its class.
    pub class: Class,
    /// Its sequence number.
    pub number: u8,
    /// What kind of message it is.
    pub message: MessageNumber,
    /// The whole payload, message number first (the postcard form of an enum).
    pub payload: &'a [u8],
    /// When the first of its octets arrived; freshness counts from here (W-46).
    pub arrived: Instant,
    /// Set-points or notices lost right before this one, by their number; 0 for confirmed messages.
    pub missed: u8,
}

/// What a link tells the application.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Event<'a> {
    /// A session is open.
    Opened(Peer),
    /// The peer has been silent for longer than one and a half of its keep-alive periods.
    Quiet,
    /// The peer is heard again.
    Resumed,
    /// The session has ended; every unconfirmed item has had its outcome.
    Ended(EndReason),
    /// The boards do not speak the same (W-30); told once for each different peer.
    Mismatch {
        /// This side.
        ours: Terms,
        /// The other side.
        theirs: Terms,
    },
    /// A message.
    Message(Message<'a>),
    /// What became of an errand or report.
    Outcome {
        /// The item.
        ticket: Ticket,
        /// What became of it.
        outcome: Outcome,
    },
    /// An errand or report is sent again.
    Resent {
        /// The item.
        ticket: Ticket,
        /// Sendings so far, this one included.
        tries: u8,
    },
    /// Foreign text (W-9), exactly as it came.
    Text(&'a [u8]),
    /// Something was refused (section 9).
    Refused(Reject),
    /// The answer to [`probe`](super::Link::probe).
    ProbeAnswer {
        /// Its id.
        id: u16,
        /// From the moment the probe had left to the arrival of the answer.
        round_trip: Duration,
    },
    /// The answer to [`ask_statistics`](super::Link::ask_statistics).
    PeerStatistics(Counters<'a>),
}
