//! Framing: an octet stream to candidates and back (W-1 to W-9), behind one trait.
//!
//! A [`Framing`] is fed whatever came in and says what it found: a checked frame, foreign text, or a candidate that was
//! refused and why. Each module also has plain functions for one candidate in a slice (`encode`, `decode`, `decode_in_place`,
//! `max_encoded_len`).

pub mod air;
mod candidate;
pub mod cobs;
mod control_map;
pub mod datagram;
pub mod octet_stuffing;
pub mod order;
pub mod radio_board;
pub mod slip;
mod text;
mod word;

pub use air::{Air, NotAir, NotSent};
pub use cobs::Cobs;
pub use control_map::ControlMap;
pub use datagram::Datagram;
pub use octet_stuffing::OctetStuffing;
pub use order::Order;
pub use radio_board::RadioBoard;
pub use slip::Slip;
pub use text::is_text;

use crate::{
    fcs::Fcs,
    frame::{Head, Reject},
    rules::holds,
};

/// Whether a frame is opened by a delimiter of its own (W-1).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Lead {
    /// Open with a delimiter: something other than our own closing delimiter may lie before.
    Delimiter,
    /// The closing delimiter of our previous frame has only just been sent.
    BackToBack,
}

/// The output does not fit: the buffer must hold `max_encoded_len` octets to be sure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct NoRoom;

impl core::fmt::Display for NoRoom {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str("the encoded frame does not fit the output buffer")
    }
}

impl core::error::Error for NoRoom {}

/// What a decoder has found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Step {
    /// Nothing complete yet; all input is consumed.
    More,
    /// A checked frame without its FCS, in the buffer.
    Frame {
        /// Where the frame starts in the buffer.
        start: usize,
        /// Octets of the frame.
        len: usize,
    },
    /// Foreign text (W-9): the first `len` octets of the buffer, exactly as they came.
    Text {
        /// Octets of text in the buffer.
        len: usize,
    },
    /// A candidate was refused; what is left of it (for a log) is the first `len` octets of the buffer.
    Refused {
        /// The rule that was broken.
        reject: Reject,
        /// Octets kept in the buffer.
        len: usize,
    },
}

/// What [`Framing::feed`] did with its input.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Fed {
    /// Octets of the input that are done with; feed the rest next. Less than all only if `step` is not `More`; may be
    /// none, while a long text is handed out in pieces.
    pub consumed: usize,
    /// What was found.
    pub step: Step,
}

/// A framing: how frames are told apart on a line.
///
/// The decoder is streaming: it is fed any number of octets at a time, and any cut of a stream gives the same steps.
/// Its state is plain data and stands apart from the buffer, which is the caller's.
pub trait Framing: Clone + Eq + core::hash::Hash + core::fmt::Debug {
    /// [`Ordered`](order::Ordered) where the line neither doubles nor overtakes frames.
    type Order: Order;
    /// The same as a value; `false` puts the tag of W-14 into frames.
    const ORDERED: bool = Self::Order::KEPT;
    /// The octet between frames, if the framing has one.
    const DELIMITER: Option<u8>;
    /// Octets that a receiver's buffer must hold beside a frame and its stuffing: of a layer below that brings it.
    const EXTRA: usize = 0;
    /// State of the decoder between octets.
    type State: Clone + Eq + core::hash::Hash + core::fmt::Debug + Default;
    /// The state before any octet, as if a delimiter had just come.
    const START: Self::State;

    /// The most octets that a frame of `frame` octets (FCS included) takes on the wire, both delimiters included.
    fn max_encoded_len(frame: usize) -> usize;

    /// Encodes one frame, given in parts (header, payload, FCS), in one pass; gives the octets written.
    ///
    /// # Errors
    /// [`NoRoom`] if `out` is too short; what is in `out` is then undefined.
    fn encode(&self, parts: &[&[u8]], lead: Lead, out: &mut [u8]) -> Result<usize, NoRoom>;

    /// Encodes one frame, given as head and payload, with its FCS, in one pass; gives the octets written.
    ///
    /// # Errors
    /// As [`Framing::encode`].
    #[inline]
    fn encode_frame<C: Fcs>(
        &self,
        head: Head<'_>,
        payload: &[u8],
        lead: Lead,
        out: &mut [u8],
    ) -> Result<usize, NoRoom> {
        let fcs = C::octets(C::update(C::update(C::INIT, head.as_slice()), payload));
        self.encode(&[head.as_slice(), payload, fcs.get(..C::LEN).unwrap_or(&fcs)], lead, out)
    }

    /// Feeds received octets. `buffer` must be the same at every call between two results; a candidate that needs more
    /// octets than it has is too long (W-8).
    ///
    /// For [`Datagram`] every call is one whole datagram.
    fn feed<C: Fcs>(&self, state: &mut Self::State, input: &[u8], buffer: &mut [u8]) -> Fed;

    /// Octets at the start of the buffer that are in use between two calls.
    fn held(&self, state: &Self::State) -> usize;

    /// Octets at the start of the buffer that look like foreign text so far (0 if they do not): for a log that shows a prompt
    /// before its delimiter comes. They stay in the buffer and are handed out again as [`Step::Text`].
    fn pending_text(&self, state: &Self::State, buffer: &[u8]) -> usize;
}

/// Puts delimiters around what `encode` writes (W-1).
#[inline]
fn enclose(
    delimiter: u8,
    lead: Lead,
    out: &mut [u8],
    encode: impl FnOnce(&mut [u8]) -> Result<usize, NoRoom>,
) -> Result<usize, NoRoom> {
    let start = usize::from(lead == Lead::Delimiter && holds(1));
    if start == 1 {
        *out.first_mut().ok_or(NoRoom)? = delimiter;
    }
    let inner = out.get_mut(start..).ok_or(NoRoom)?;
    let len = encode(inner)?;
    *inner.get_mut(len).ok_or(NoRoom)? = delimiter;
    Ok(start.wrapping_add(len).wrapping_add(1))
}

#[cfg(test)]
mod between;
#[cfg(test)]
mod tests;
