//! Consistent overhead byte stuffing (Cheshire and Baker, IEEE/ACM ToN 7(2), 1999), canonical (W-3, W-4).

use super::{
    Fed, Framing, Lead, NoRoom, Step,
    candidate::{Phase, checked, no_frame},
    is_text,
};
use crate::{fcs::Fcs, frame::Reject, rules::holds};

/// The octet between frames.
pub const DELIMITER: u8 = 0x00;

/// The code of a full block: 254 octets and no zero after them.
const FULL: u8 = 0xFF;

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

/// Encodes octets given in parts, without delimiters; gives the octets written, none of them zero.
///
/// # Errors
/// [`NoRoom`] if `out` is too short; [`max_encoded_len`] is always enough.
pub fn encode(parts: &[&[u8]], out: &mut [u8]) -> Result<usize, NoRoom> {
    let mut at = 1_usize;
    let mut code_at = 0_usize;
    let mut code = 1_u8;
    let mut full = false;
    for &octet in parts.iter().copied().flatten() {
        if full {
            // A full block is closed only once another octet follows.
            code_at = at;
            at = at.wrapping_add(1);
            code = 1;
            full = false;
        }
        if octet == 0 {
            *out.get_mut(code_at).ok_or(NoRoom)? = code;
            code_at = at;
            code = 1;
        } else {
            *out.get_mut(at).ok_or(NoRoom)? = octet;
            code = code.wrapping_add(1);
            if code == FULL {
                *out.get_mut(code_at).ok_or(NoRoom)? = code;
                full = true;
            }
        }
        at = at.wrapping_add(1);
    }
    if !full {
        *out.get_mut(code_at).ok_or(NoRoom)? = code;
    }
    Ok(at)
}

/// One block at the start of `rest`: its octets, whether a zero follows it, and what comes after.
#[inline]
fn block(rest: &[u8]) -> Result<(&[u8], bool, &[u8]), Reject> {
    let (&code, tail) = rest.split_first().ok_or(Reject::TooShort)?;
    let (octets, after) = match tail.split_at_checked(usize::from(code).wrapping_sub(1)) {
        Some(halves) => halves,
        None if !holds(3) => (tail, &[][..]),
        None => return Err(Reject::BrokenCode),
    };
    if code == FULL && after == [1] && holds(4) {
        return Err(Reject::NotCanonical);
    }
    Ok((octets, code != FULL && !after.is_empty(), after))
}

/// Decodes one candidate (no delimiters) into `out`; gives the octets written.
///
/// # Errors
/// [`Reject::BrokenCode`] if a code points past the end or a zero lies inside, [`Reject::NotCanonical`] for an encoding that
/// [`encode`] never makes, [`Reject::TooShort`] for no octets at all, [`Reject::TooLong`] if `out` is too short.
pub fn decode(candidate: &[u8], out: &mut [u8]) -> Result<usize, Reject> {
    if candidate.contains(&DELIMITER) {
        return Err(Reject::BrokenCode);
    }
    let mut rest = candidate;
    let mut len = 0_usize;
    loop {
        let (octets, zero, after) = block(rest)?;
        let end = len.wrapping_add(octets.len());
        out.get_mut(len..end).ok_or(Reject::TooLong)?.copy_from_slice(octets);
        len = end;
        if zero {
            *out.get_mut(len).ok_or(Reject::TooLong)? = 0;
            len = len.wrapping_add(1);
        }
        if after.is_empty() {
            return Ok(len);
        }
        rest = after;
    }
}

/// Decodes one candidate (no delimiters) where it lies; gives the octets it decodes to, at the start of `candidate`.
///
/// # Errors
/// As [`decode`], but never [`Reject::TooLong`]. What is in `candidate` is then undefined.
pub fn decode_in_place(candidate: &mut [u8]) -> Result<usize, Reject> {
    if candidate.contains(&DELIMITER) {
        return Err(Reject::BrokenCode);
    }
    let mut from = 0_usize;
    let mut len = 0_usize;
    loop {
        let (octets, zero, after) = block(candidate.get(from..).unwrap_or(&[]))?;
        let (octets, is_last) = (octets.len(), after.is_empty());
        let first = from.wrapping_add(1);
        from = first.wrapping_add(octets);
        candidate.copy_within(first..from, len);
        len = len.wrapping_add(octets);
        if zero && let Some(cell) = candidate.get_mut(len) {
            *cell = 0;
            len = len.wrapping_add(1);
        }
        if is_last {
            return Ok(len);
        }
    }
}

/// Judges a candidate without changing it; gives the length of its frame without the FCS.
fn judge<C: Fcs>(candidate: &[u8]) -> Result<usize, Reject> {
    let mut rest = candidate;
    let mut len = 0_usize;
    let mut register = C::INIT;
    loop {
        let (octets, zero, after) = block(rest)?;
        register = C::update(register, octets);
        len = len.wrapping_add(octets.len());
        if zero {
            register = C::update(register, &[0]);
            len = len.wrapping_add(1);
        }
        if after.is_empty() {
            return checked::<C>(len, register);
        }
        rest = after;
    }
}

/// The verdict on a whole candidate.
fn verdict<C: Fcs>(candidate: &mut [u8]) -> Step {
    match judge::<C>(candidate) {
        Ok(len) => {
            let _ = decode_in_place(candidate);
            Step::Frame { start: 0, len }
        }
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

    fn feed<C: Fcs>(&self, state: &mut State, input: &[u8], buffer: &mut [u8]) -> Fed {
        for (at, &octet) in input.iter().enumerate() {
            if octet == DELIMITER {
                if let Some(step) = state.end::<C>(buffer) {
                    return Fed { consumed: at.wrapping_add(1), step };
                }
            } else if state.phase != Phase::Skip {
                let Some(cell) = buffer.get_mut(state.len) else {
                    return Fed { consumed: at, step: state.overflow(buffer) };
                };
                *cell = octet;
                state.len = state.len.wrapping_add(1);
            }
        }
        Fed { consumed: input.len(), step: Step::More }
    }

    fn held(&self, state: &State) -> usize {
        state.len
    }

    fn pending_text(&self, state: &State, buffer: &[u8]) -> usize {
        buffer.get(..state.len).filter(|held| is_text(held)).map_or(0, <[u8]>::len)
    }
}
