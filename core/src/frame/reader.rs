//! Received octets to frames: a framing, an FCS and the buffer they need.

use core::{
    hash::{Hash, Hasher},
    marker::PhantomData,
};

use super::{Reject, View};
use crate::{
    fcs::Fcs,
    framing::{Framing, Step},
};

/// What a [`Reader`] has found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Read<'a> {
    /// A checked frame.
    Frame(View<'a>),
    /// Foreign text (W-9), exactly as it came.
    Text(&'a [u8]),
    /// A candidate or a frame that breaks a rule.
    Refused {
        /// The rule.
        reject: Reject,
        /// What is left of it, for a log: stuffed or not, possibly cut.
        octets: &'a [u8],
    },
}

/// Turns received octets into frames, in a buffer of `FRAME` octets of its own.
///
/// A buffer of `FRAME` octets takes every frame with a payload of up to `FRAME` - 16 octets, whatever the framing and FCS, for
/// `FRAME` up to 1040 and somewhat beyond.
///
/// Two readers are equal if they will do the same with the same input; octets left over in the buffer do not count.
#[derive(Debug, Clone)]
pub struct Reader<F: Framing, C: Fcs, const FRAME: usize> {
    framing: F,
    state: F::State,
    buffer: [u8; FRAME],
    fcs: PhantomData<C>,
}

impl<F: Framing, C: Fcs, const FRAME: usize> Reader<F, C, FRAME> {
    /// A reader that behaves as if a delimiter had just come (W-2). A firmware can make it in a `static`.
    #[must_use]
    pub const fn new(framing: F) -> Self {
        Self { framing, state: F::START, buffer: [0; FRAME], fcs: PhantomData }
    }

    /// Takes received octets up to the first that completes something; gives how many it took, and what it found.
    ///
    /// Feed the rest next, until all is taken and nothing found. It may take none while it hands out a long text in pieces.
    /// With [`crate::framing::Datagram`] every call takes one whole datagram (or what the last call left of it).
    #[inline]
    pub fn feed(&mut self, input: &[u8]) -> (usize, Option<Read<'_>>) {
        let fed = self.framing.feed::<C>(&mut self.state, input, &mut self.buffer);
        let octets = |start: usize, len: usize| {
            self.buffer.get(start..).and_then(|rest| rest.get(..len)).unwrap_or(&[])
        };
        let read = match fed.step {
            Step::More => None,
            Step::Frame { start, len } => Some(match View::parse(octets(start, len), !F::ORDERED) {
                Ok(view) => Read::Frame(view),
                Err(reject) => Read::Refused { reject, octets: octets(start, len) },
            }),
            Step::Text { len } => Some(Read::Text(octets(0, len))),
            Step::Refused { reject, len } => Some(Read::Refused { reject, octets: octets(0, len) }),
        };
        (fed.consumed, read)
    }

    /// What looks like foreign text so far, for a log that shows a prompt before its delimiter comes. It is handed out again later.
    #[must_use]
    pub fn pending_text(&self) -> &[u8] {
        let len = self.framing.pending_text(&self.state, &self.buffer);
        self.buffer.get(..len).unwrap_or(&[])
    }

    /// The framing.
    #[must_use]
    pub const fn framing(&self) -> &F {
        &self.framing
    }

    /// Forgets what was collected, as if a delimiter had just come.
    pub fn reset(&mut self) {
        self.state = F::START;
    }

    fn held(&self) -> &[u8] {
        self.buffer.get(..self.framing.held(&self.state)).unwrap_or(&self.buffer)
    }
}

impl<F: Framing, C: Fcs, const FRAME: usize> PartialEq for Reader<F, C, FRAME> {
    fn eq(&self, other: &Self) -> bool {
        self.framing == other.framing && self.state == other.state && self.held() == other.held()
    }
}

impl<F: Framing, C: Fcs, const FRAME: usize> Eq for Reader<F, C, FRAME> {}

impl<F: Framing, C: Fcs, const FRAME: usize> Hash for Reader<F, C, FRAME> {
    fn hash<H: Hasher>(&self, hasher: &mut H) {
        self.framing.hash(hasher);
        self.state.hash(hasher);
        self.held().hash(hasher);
    }
}

#[cfg(test)]
mod tests;
