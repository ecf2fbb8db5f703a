//! What a link or its endpoint told, owned.

use bellwire::{
    frame::{Class, Reject},
    link::{EndReason, Event, Outcome, Peer, Terms, Ticket},
    time::Duration,
};

use crate::endpoint::Gap;

/// The owned form of the core's [`Event`], and what the endpoint adds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Happening {
    /// A session is open.
    Opened(Peer),
    /// The peer has been silent for a while.
    Quiet,
    /// The peer is heard again.
    Resumed,
    /// The session ended.
    Ended(EndReason),
    /// The sides do not speak the same.
    Mismatch {
        /// This side.
        ours: Terms,
        /// The other side.
        theirs: Terms,
    },
    /// A message came.
    Message(Received),
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
        /// Sendings so far.
        tries: u8,
    },
    /// Foreign text.
    Text(Vec<u8>),
    /// Something was refused.
    Refused(Reject),
    /// A probe was answered.
    ProbeAnswer {
        /// Its id.
        id: u16,
        /// There and back.
        round_trip: Duration,
    },
    /// The endpoint went away or came back.
    Gap(Gap),
    /// A remark of the endpoint.
    Note(String),
    /// The endpoint has come to its end.
    End,
}

/// A message from the peer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Received {
    /// Its class.
    pub class: Class,
    /// Its sequence number.
    pub number: u8,
    /// The whole payload, message number first.
    pub payload: Vec<u8>,
    /// Set-points or notices lost right before it.
    pub missed: u8,
}

impl Happening {
    /// The owned form of an event; `None` for what the tool never asks for.
    #[must_use]
    pub fn of(event: Event<'_>) -> Option<Self> {
        Some(match event {
            Event::Opened(peer) => Self::Opened(peer),
            Event::Quiet => Self::Quiet,
            Event::Resumed => Self::Resumed,
            Event::Ended(reason) => Self::Ended(reason),
            Event::Mismatch { ours, theirs } => Self::Mismatch { ours, theirs },
            Event::Message(message) => Self::Message(Received {
                class: message.class,
                number: message.number,
                payload: message.payload.to_vec(),
                missed: message.missed,
            }),
            Event::Outcome { ticket, outcome } => Self::Outcome { ticket, outcome },
            Event::Resent { ticket, tries } => Self::Resent { ticket, tries },
            Event::Text(text) => Self::Text(text.to_vec()),
            Event::Refused(reject) => Self::Refused(reject),
            Event::ProbeAnswer { id, round_trip } => Self::ProbeAnswer { id, round_trip },
            Event::PeerStatistics(_) => return None,
        })
    }
}
