//! Consistent overhead byte stuffing (Cheshire and Baker, IEEE/ACM ToN 7(2), 1999), canonical (W-3, W-4).

mod decode;
mod encode;
mod word;

pub use decode::{decode, decode_in_place};
pub use encode::encode;

use super::{
    Fed, Framing, Lead, NoRoom, Step,
    candidate::{Phase, no_frame},
    is_text,
};
use crate::{fcs::Fcs, frame::Reject, rules::holds};

/// The octet between frames.
pub const DELIMITER: u8 = 0x00;

/// The code of a full block: 254 octets and no zero after them.
const FULL: u8 = 0xFF;

/// The most octets of a block, without its code.
const MAX_BLOCK: usize = 254;

/// From how many octets on they are taken many at a time.
const MANY: usize = if cfg!(feature = "fcs-host") { 16 } else { usize::MAX };

/// COBS with the delimiter 0x00.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Cobs;

/// State of the decoder: the candidate is collected as it came.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct State {
    len: usize,
    phase: Phase,
}

/// The most octets that `n` octets take when encoded, without delimiters: n + max(1, ceil(n/254)).
#[must_use]
pub const fn max_encoded_len(n: usize) -> usize {
    let blocks = n.div_ceil(254);
    n.saturating_add(if blocks == 0 { 1 } else { blocks })
}

/// The verdict on a whole candidate.
#[inline]
fn verdict<C: Fcs>(candidate: &mut [u8]) -> Step {
    match decode::check::<C>(candidate) {
        Ok(frame) => Step::Frame { start: frame.start, len: frame.len() },
        Err(reject) => no_frame(reject, candidate),
    }
}

impl State {
    /// A delimiter came: the verdict on what was collected, if that is anything.
    fn end<C: Fcs>(&mut self, buffer: &mut [u8]) -> Option<Step> {
        let Self { len, phase } = core::mem::take(self);
        let candidate = buffer.get_mut(..len)?;
        match phase {
            Phase::Skip => None,
            _ if len == 0 && holds(2) => None,
            Phase::Rest => Some(no_frame(Reject::TooLong, candidate)),
            Phase::Collect => Some(verdict::<C>(candidate)),
        }
    }

    /// The buffer is full and the candidate goes on (W-8): text is handed out, anything else refused.
    fn overflow(&mut self, buffer: &[u8]) -> Step {
        let step = no_frame(Reject::TooLong, buffer);
        self.len = 0;
        self.phase = match step {
            _ if !holds(8) => Phase::Collect,
            Step::Text { .. } => Phase::Rest,
            _ => Phase::Skip,
        };
        step
    }
}

impl Framing for Cobs {
    const ORDERED: bool = true;
    const DELIMITER: Option<u8> = Some(DELIMITER);
    type State = State;

    fn max_encoded_len(frame: usize) -> usize {
        max_encoded_len(frame).saturating_add(2)
    }

    fn encode(&self, parts: &[&[u8]], lead: Lead, out: &mut [u8]) -> Result<usize, NoRoom> {
        super::enclose(DELIMITER, lead, out, |out| encode(parts, out))
    }

    #[inline]
    fn feed<C: Fcs>(&self, state: &mut State, input: &[u8], buffer: &mut [u8]) -> Fed {
        let mut at = 0_usize;
        loop {
            let rest = input.get(at..).unwrap_or(&[]);
            if rest.len() >= MANY && state.phase != Phase::Skip {
                let room = buffer.get_mut(state.len..).unwrap_or(&mut []);
                let taken = word::copy_to_zero(rest, room);
                at = at.wrapping_add(taken);
                state.len = state.len.wrapping_add(taken);
            }
            let Some(&octet) = input.get(at) else {
                return Fed { consumed: input.len(), step: Step::More };
            };
            if octet == DELIMITER {
                at = at.wrapping_add(1);
                if let Some(step) = state.end::<C>(buffer) {
                    return Fed { consumed: at, step };
                }
            } else if state.phase == Phase::Skip {
                at = at.wrapping_add(1);
            } else if let Some(cell) = buffer.get_mut(state.len) {
                *cell = octet;
                state.len = state.len.wrapping_add(1);
                at = at.wrapping_add(1);
            } else {
                return Fed { consumed: at, step: state.overflow(buffer) };
            }
        }
    }

    fn held(&self, state: &State) -> usize {
        state.len
    }

    fn pending_text(&self, state: &State, buffer: &[u8]) -> usize {
        buffer.get(..state.len).filter(|held| is_text(held)).map_or(0, <[u8]>::len)
    }
}
