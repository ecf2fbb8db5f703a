//! The receive buffer, and what was found in it and waits to be handed out.

use core::hash::{Hash, Hasher};

use super::apart::Apart;
use crate::{
    fcs::Fcs,
    frame::Class,
    framing::{Fed, Framing},
    time::{Duration, Instant},
};

/// A piece of the receive buffer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) struct Span {
    start: u16,
    len: u16,
}

impl Span {
    /// Buffers are shorter than 2^16 octets.
    #[inline(always)]
    pub(crate) fn new(start: usize, len: usize) -> Self {
        let short = |octets: usize| u16::try_from(octets).unwrap_or(u16::MAX);
        Self { start: short(start), len: short(len) }
    }

    pub(crate) const fn is_empty(self) -> bool {
        self.len == 0
    }

    /// The piece after its first `count` octets.
    pub(crate) fn after(self, count: usize) -> Self {
        let Self { start: count, .. } = Self::new(count, 0);
        Self { start: self.start.saturating_add(count), len: self.len.saturating_sub(count) }
    }
}

/// What waits to be handed out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum Found {
    Message { class: Class, number: u8, missed: u8, span: Span },
    Text(Span),
    Statistics(Span),
    ProbeAnswer { id: u16, round_trip: Apart<Duration> },
}

impl Found {
    const fn span(&self) -> Option<Span> {
        match self {
            Self::Message { span, .. } | Self::Text(span) | Self::Statistics(span) => Some(*span),
            Self::ProbeAnswer { .. } => None,
        }
    }
}

/// Framing, decoder and buffer.
#[derive(Debug, Clone)]
#[repr(C)]
pub(crate) struct Receiver<F: Framing, const FRAME: usize> {
    pub(crate) framing: F,
    pub(crate) found: Option<Found>,
    state: F::State,
    /// When the first octets of the last candidate arrived, finished or not.
    pub(crate) since: Apart<Instant>,
    buffer: [u8; FRAME],
}

impl<F: Framing, const FRAME: usize> Receiver<F, FRAME> {
    pub(crate) const fn framing_state(&self) -> &F::State {
        &self.state
    }

    pub(crate) fn new(framing: F) -> Self {
        Self {
            framing,
            found: None,
            state: F::START,
            since: Apart(Instant::from_ticks(0)),
            buffer: [0; FRAME],
        }
    }

    /// Feeds octets that arrived at `arrived`; gives what was done with them. [`Receiver::since`] is then when the first octets of what was
    /// found arrived: a frame whose closing delimiter was lost is no younger for the delimiter that ends it at last.
    pub(crate) fn feed<C: Fcs>(&mut self, arrived: Instant, octets: &[u8]) -> Fed {
        if self.framing.held(&self.state) == 0 {
            self.since = Apart(arrived);
        }
        self.framing.feed::<C>(&mut self.state, octets, &mut self.buffer)
    }

    /// Forgets what was collected.
    pub(crate) fn reset(&mut self) {
        self.state = F::START;
    }

    #[inline(never)]
    pub(crate) fn octets(&self, span: Span) -> &[u8] {
        let rest = self.buffer.get(usize::from(span.start)..);
        rest.and_then(|rest| rest.get(..usize::from(span.len))).unwrap_or(&[])
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
