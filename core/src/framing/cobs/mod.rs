//! Consistent overhead byte stuffing (Cheshire and Baker, IEEE/ACM ToN 7(2), 1999), canonical (W-3, W-4).

mod decode;
mod encode;

pub use decode::{check_in_place, decode, decode_in_place};
pub use encode::encode;

use super::{Fed, Framing, Lead, NoRoom, Step, candidate::no_frame, is_text, word};
use crate::{
    fcs::Fcs,
    frame::{Head, Reject},
    rules::holds,
};

/// The octet between frames.
pub const DELIMITER: u8 = 0x00;

/// The code of a full block: 254 octets and no zero after them.
const FULL: u8 = 0xFF;

/// The most octets of a block, without its code.
const MAX_BLOCK: usize = 254;

/// The longest candidate of which every block but the last surely implies a zero.
const SHORT: usize = 255;

/// From how many octets on a host takes them by words.
const MANY: usize = 16;

/// COBS with the delimiter 0x00.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Cobs;

/// State of the decoder: the candidate is collected as it came.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct State {
    /// Octets collected, or [`SKIP`].
    len: usize,
    /// Pieces of this candidate were handed out as text: it is no frame any more.
    rest: bool,
}

/// The most octets that `n` octets take when encoded, without delimiters: n + max(1, ceil(n/254)).
#[must_use]
pub const fn max_encoded_len(n: usize) -> usize {
    let blocks = n.div_ceil(254);
    n.saturating_add(if blocks == 0 { 1 } else { blocks })
}

/// The verdict on a whole candidate.
#[inline(always)]
fn verdict<C: Fcs>(candidate: &mut [u8]) -> Step {
    match decode::check::<C>(candidate) {
        Ok(frame) => Step::Frame { start: frame.start, len: frame.len() },
        Err(reject) => no_frame(reject, candidate),
    }
}

/// The length that stands for no length: skipping to the delimiter.
const SKIP: usize = usize::MAX;

impl State {
    /// A delimiter came: the verdict on what was collected, if that is anything.
    #[inline(always)]
    fn end<C: Fcs>(&mut self, buffer: &mut [u8]) -> Option<Step> {
        let Self { len, rest } = core::mem::take(self);
        // Nothing is there to get if the candidate is being skipped.
        let candidate = buffer.get_mut(..len)?;
        if len == 0 && holds(2) {
            None
        } else if rest {
            Some(no_frame(Reject::TooLong, candidate))
        } else {
            Some(verdict::<C>(candidate))
        }
    }

    /// The buffer is full and the candidate goes on (W-8): text is handed out, anything else refused.
    #[cold]
    fn overflow(&mut self, buffer: &[u8]) -> Step {
        let step = no_frame(Reject::TooLong, buffer);
        *self = match step {
            _ if !holds(8) => Self::default(),
            Step::Text { .. } => Self { len: 0, rest: true },
            _ => Self { len: SKIP, rest: false },
        };
        step
    }

    /// Takes an octet that ends the candidate, or finds no room: what is found, and whether the octet is done with.
    #[inline]
    fn special<C: Fcs>(&mut self, octet: u8, buffer: &mut [u8]) -> Option<(usize, Step)> {
        if octet == DELIMITER {
            self.end::<C>(buffer).map(|step| (1, step))
        } else if self.len == SKIP {
            None
        } else {
            Some((0, self.overflow(buffer)))
        }
    }

    /// As [`Framing::feed`], with many octets at once.
    #[inline]
    fn feed_many<C: Fcs>(&mut self, input: &[u8], buffer: &mut [u8]) -> Fed {
        let mut rest = input;
        loop {
            let taken = match buffer.get_mut(self.len..) {
                Some(room) => {
                    let taken = word::copy_until(rest, room, word::any_zero);
                    self.len = self.len.wrapping_add(taken);
                    taken
                }
                None => rest.iter().position(|&octet| octet == DELIMITER).unwrap_or(rest.len()),
            };
            let consumed = |rest: &[u8]| input.len().wrapping_sub(rest.len());
            rest = rest.get(taken..).unwrap_or(&[]);
            match rest {
                [] => return Fed { consumed: input.len(), step: Step::More },
                [DELIMITER, after @ ..] => {
                    rest = after;
                    if let Some(step) = self.end::<C>(buffer) {
                        return Fed { consumed: consumed(rest), step };
                    }
                }
                _ => return Fed { consumed: consumed(rest), step: self.overflow(buffer) },
            }
        }
    }
}

impl Framing for Cobs {
    type Order = crate::framing::order::Ordered;
    const DELIMITER: Option<u8> = Some(DELIMITER);
    type State = State;
    const START: State = State { len: 0, rest: false };

    fn max_encoded_len(frame: usize) -> usize {
        max_encoded_len(frame).saturating_add(2)
    }

    fn encode(&self, parts: &[&[u8]], lead: Lead, out: &mut [u8]) -> Result<usize, NoRoom> {
        super::enclose(DELIMITER, lead, out, |out| encode(parts, out))
    }

    #[inline]
    fn encode_frame<C: Fcs>(
        &self,
        head: Head<'_>,
        payload: &[u8],
        lead: Lead,
        out: &mut [u8],
    ) -> Result<usize, NoRoom> {
        super::enclose(DELIMITER, lead, out, |out| encode::frame::<C>(head, payload, out))
    }

    #[inline]
    fn feed<C: Fcs>(&self, state: &mut State, input: &[u8], buffer: &mut [u8]) -> Fed {
        if cfg!(feature = "fcs-host") && input.len() >= MANY {
            return state.feed_many::<C>(input, buffer);
        }
        let mut len = state.len;
        for (at, &octet) in input.iter().enumerate() {
            if octet != DELIMITER
                && let Some(cell) = buffer.get_mut(len)
            {
                *cell = octet;
                len = len.wrapping_add(1);
            } else {
                state.len = len;
                if let Some((done, step)) = state.special::<C>(octet, buffer) {
                    return Fed { consumed: at.wrapping_add(done), step };
                }
                len = state.len;
            }
        }
        state.len = len;
        Fed { consumed: input.len(), step: Step::More }
    }

    fn held(&self, state: &State) -> usize {
        if state.len == SKIP { 0 } else { state.len }
    }

    fn pending_text(&self, state: &State, buffer: &[u8]) -> usize {
        buffer.get(..state.len).filter(|held| is_text(held)).map_or(0, <[u8]>::len)
    }
}

#[cfg(test)]
mod tests;
