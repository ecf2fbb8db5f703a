//! Events as plain structures.

use bellwire::{
    frame::ResetCause,
    link::{self, EndReason, Peer, Terms},
    time::Duration,
};

use crate::{
    status::Status,
    words::{self, Class, End, Happening, Outcome},
};

/// The most octets that come with an event.
pub const EVENT_OCTETS: usize = 64;

/// What a port tells. Which members count is said with `bellwire_happening`; the others are zero.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct Event {
    /// The peer's long name; 0: none.
    pub identity: u64,
    /// Fingerprint of the peer's agreement; 0: none.
    pub fingerprint: u32,
    /// When the message arrived, µs: hand it to the dead-man.
    pub arrived: u32,
    /// What kind of message it is.
    pub message: u16,
    /// The errand or report that an outcome is about.
    pub ticket: u16,
    /// How many octets there are.
    pub length: u16,
    /// What it is: a `bellwire_happening`.
    pub happening: u8,
    /// Class of the message: a `bellwire_class`.
    pub message_class: u8,
    /// Set-points or notices lost right before this one.
    pub missed: u8,
    /// A `bellwire_outcome`.
    pub outcome: u8,
    /// Sendings so far.
    pub tries: u8,
    /// Why the session ended: a `bellwire_end`.
    pub end: u8,
    /// Why the peer last started, numbered as in `bellwire_settings`.
    pub cause: u8,
    /// The code of the broken rule, section 9 of the wire text.
    pub reject: u8,
    /// The whole payload, message number first, or the text: a copy.
    pub octets: [u8; EVENT_OCTETS],
}

impl Event {
    const fn of(happening: Happening) -> Self {
        Self {
            identity: 0,
            fingerprint: 0,
            arrived: 0,
            message: 0,
            ticket: 0,
            length: 0,
            happening: happening as u8,
            message_class: 0,
            missed: 0,
            outcome: 0,
            tries: 0,
            end: 0,
            cause: 0,
            reject: 0,
            octets: [0; EVENT_OCTETS],
        }
    }

    fn with(mut self, octets: &[u8]) -> Self {
        for (cell, octet) in self.octets.iter_mut().zip(octets) {
            *cell = *octet;
            self.length = self.length.wrapping_add(1);
        }
        self
    }

    /// The event for C. There is none for what a port of C never asks for.
    pub(crate) fn from(event: Option<link::Event<'_>>) -> Self {
        match event {
            Some(link::Event::Opened(peer)) => Self {
                identity: peer.identity,
                fingerprint: peer.fingerprint,
                cause: peer.cause as u8,
                ..Self::of(Happening::Opened)
            },
            Some(link::Event::Quiet) => Self::of(Happening::Quiet),
            Some(link::Event::Resumed) => Self::of(Happening::Resumed),
            Some(link::Event::Ended(reason)) => Self::ended(reason),
            Some(link::Event::Mismatch { theirs, .. }) => Self {
                identity: theirs.identity,
                fingerprint: theirs.fingerprint,
                ..Self::of(Happening::Mismatch)
            },
            Some(link::Event::Message(message)) => Self::message(&message),
            Some(link::Event::Outcome { ticket, outcome }) => {
                Self { ticket: ticket.get(), ..Self::outcome(outcome) }
            }
            Some(link::Event::Resent { ticket, tries }) => {
                Self { ticket: ticket.get(), tries, ..Self::of(Happening::Resent) }
            }
            Some(link::Event::Text(text)) => Self::of(Happening::Text).with(text),
            Some(link::Event::Refused(reject)) => {
                Self { reject: reject.code(), ..Self::of(Happening::Refused) }
            }
            Some(link::Event::ProbeAnswer { .. } | link::Event::PeerStatistics(_)) | None => {
                Self::of(Happening::None)
            }
        }
    }

    fn message(message: &link::Message<'_>) -> Self {
        Self {
            arrived: message.arrived.as_ticks(),
            message: message.message.get(),
            message_class: Class::from(message.class) as u8,
            missed: message.missed,
            ..Self::of(Happening::Message)
        }
        .with(message.payload)
    }

    const fn outcome(outcome: link::Outcome) -> Self {
        let word = match outcome {
            link::Outcome::Delivered => Outcome::Delivered,
            link::Outcome::NotSent(_) => Outcome::NotSent,
            link::Outcome::Unknown => Outcome::Unknown,
        };
        Self { outcome: word as u8, ..Self::of(Happening::Outcome) }
    }

    fn ended(reason: EndReason) -> Self {
        let cause = if let EndReason::PeerRestarted(cause) = reason { cause as u8 } else { 0 };
        Self { end: End::from(reason) as u8, cause, ..Self::of(Happening::Ended) }
    }

    /// What of the event is a dead-man's business.
    ///
    /// # Errors
    /// If the event holds numbers that no port gives.
    pub(crate) fn to_dead_man(self) -> Result<Option<link::Event<'static>>, Status> {
        const OPENED: u8 = Happening::Opened as u8;
        const ENDED: u8 = Happening::Ended as u8;
        const MISMATCH: u8 = Happening::Mismatch as u8;
        let terms = |identity, fingerprint| Terms { version: 0, fingerprint, identity };
        match self.happening {
            OPENED => Ok(Some(link::Event::Opened(self.peer()))),
            ENDED => Ok(Some(link::Event::Ended(self.reason()?))),
            MISMATCH => Ok(Some(link::Event::Mismatch {
                ours: terms(0, 0),
                theirs: terms(self.identity, self.fingerprint),
            })),
            other if other <= Happening::Refused as u8 => Ok(None),
            _ => Err(Status::NoSuchValue),
        }
    }

    const fn peer(&self) -> Peer {
        Peer {
            identity: self.identity,
            fingerprint: self.fingerprint,
            cause: ResetCause::Unknown,
            numberless: false,
            window: 1,
            max_payload: 0,
            silence: Duration::from_ticks(0),
            session: 0,
        }
    }

    fn reason(&self) -> Result<EndReason, Status> {
        match self.end {
            0 => Ok(EndReason::PeerRestarted(words::cause(self.cause)?)),
            1 => Ok(EndReason::Silence),
            2 => Ok(EndReason::Mismatch),
            3 => Ok(EndReason::Closed),
            _ => Err(Status::NoSuchValue),
        }
    }
}
