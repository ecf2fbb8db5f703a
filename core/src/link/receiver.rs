//! The receive buffer, and what was found in it and waits to be handed out.

use core::hash::{Hash, Hasher};

use super::apart::Apart;
use crate::{
    fcs::Fcs,
    frame::{Class, MessageNumber},
    framing::{Fed, Framing, Step},
    time::{Duration, Instant},
};

/// A piece of the receive buffer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) struct Span {
    pub(super) start: usize,
    pub(super) len: usize,
}

/// A message as it arrived, without its payload.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) struct Arrival {
    pub(super) class: Class,
    pub(super) number: u8,
    pub(super) message: MessageNumber,
    pub(super) arrived: Apart<Instant>,
    pub(super) missed: u8,
}

/// What waits to be handed out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Found {
    Message(Arrival, Span),
    Text(Span),
    Statistics(Span),
    ProbeAnswer { id: u16, round_trip: Apart<Duration> },
}

impl Found {
    const fn span(&self) -> Option<Span> {
        match self {
            Self::Message(_, span) | Self::Text(span) | Self::Statistics(span) => Some(*span),
            Self::ProbeAnswer { .. } => None,
        }
    }
}

/// Framing, decoder and buffer.
#[derive(Debug, Clone)]
pub(super) struct Receiver<F: Framing, const FRAME: usize> {
    pub(super) framing: F,
    pub(super) found: Option<Found>,
    state: F::State,
    /// When the first octets of the unfinished candidate arrived.
    since: Apart<Option<Instant>>,
    buffer: [u8; FRAME],
}

impl<F: Framing, const FRAME: usize> Receiver<F, FRAME> {
    pub(super) fn new(framing: F) -> Self {
        Self { framing, found: None, state: F::State::default(), since: Apart(None), buffer: [0; FRAME] }
    }

    /// Feeds octets that arrived at `arrived`; gives what was done with them, and when the first octets of what was found arrived: a frame
    /// whose closing delimiter was lost is no younger for the delimiter that ends it at last.
    pub(super) fn feed<C: Fcs>(&mut self, arrived: Instant, octets: &[u8]) -> (Fed, Instant) {
        let since = self.since.unwrap_or(arrived);
        let fed = self.framing.feed::<C>(&mut self.state, octets, &mut self.buffer);
        let goes_on = fed.step == Step::More && self.framing.held(&self.state) > 0;
        self.since = Apart(goes_on.then_some(since));
        (fed, since)
    }

    /// Forgets what was collected.
    pub(super) fn reset(&mut self) {
        self.state = F::State::default();
        self.since = Apart(None);
    }

    pub(super) fn octets(&self, span: Span) -> &[u8] {
        self.buffer.get(span.start..).and_then(|rest| rest.get(..span.len)).unwrap_or(&[])
    }

    /// The octets that decide what comes next: those of an unfinished candidate, and those found.
    fn meaning(&self) -> (&[u8], &[u8]) {
        let held = self.buffer.get(..self.framing.held(&self.state)).unwrap_or(&self.buffer);
        let found = self.found.and_then(|found| found.span()).map_or(&[][..], |span| self.octets(span));
        (held, found)
    }
}

impl<F: Framing, const FRAME: usize> PartialEq for Receiver<F, FRAME> {
    fn eq(&self, other: &Self) -> bool {
        self.framing == other.framing
            && self.found == other.found
            && self.state == other.state
            && self.meaning() == other.meaning()
    }
}

impl<F: Framing, const FRAME: usize> Eq for Receiver<F, FRAME> {}

impl<F: Framing, const FRAME: usize> Hash for Receiver<F, FRAME> {
    fn hash<H: Hasher>(&self, hasher: &mut H) {
        self.framing.hash(hasher);
        self.found.hash(hasher);
        self.state.hash(hasher);
        self.meaning().hash(hasher);
    }
}
