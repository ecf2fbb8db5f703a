//! The framing of RFC 1055 (W-6).

use super::{
    Fed, Framing, Lead, NoRoom, Step,
    candidate::{Cursor, Phase, checked, no_frame},
    is_text, word,
};
use crate::{fcs::Fcs, frame::Reject, rules::holds};

/// The octet between frames (END).
pub const DELIMITER: u8 = 0xC0;
/// The escape octet (ESC).
pub const ESCAPE: u8 = 0xDB;
/// After the escape octet: an octet 0xC0 (ESC_END).
const ESCAPED_DELIMITER: u8 = 0xDC;
/// After the escape octet: an octet 0xDB (ESC_ESC).
const ESCAPED_ESCAPE: u8 = 0xDD;

/// SLIP with the delimiter 0xC0.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Slip;

/// State of the decoder: the candidate is unstuffed as it comes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct State {
    len: usize,
    phase: Phase,
    /// The escape octet came last.
    escape: bool,
    /// The escape octet came at all, so this is no text.
    escaped: bool,
}

/// The most octets that `n` octets take when encoded, without delimiters: 2 n.
#[must_use]
pub const fn max_encoded_len(n: usize) -> usize {
    n.saturating_mul(2)
}

/// Encodes octets given in parts, without delimiters; gives the octets written.
///
/// # Errors
/// [`NoRoom`] if `out` is too short; [`max_encoded_len`] is always enough.
pub fn encode(parts: &[&[u8]], out: &mut [u8]) -> Result<usize, NoRoom> {
    let mut out = Cursor::new(out);
    for part in parts {
        let mut rest = *part;
        loop {
            if cfg!(feature = "fcs-host") {
                rest = out.extend_until(rest, special);
            }
            let Some((&octet, after)) = rest.split_first() else { break };
            rest = after;
            let second = match octet {
                DELIMITER => ESCAPED_DELIMITER,
                ESCAPE => ESCAPED_ESCAPE,
                _ => {
                    out.put(octet)?;
                    continue;
                }
            };
            out.put(ESCAPE)?;
            out.put(second)?;
        }
    }
    Ok(out.written())
}

/// For [`word::copy_until`]: delimiters and escape octets.
#[inline(always)]
const fn special(word: u64) -> u64 {
    word::any_equal(word, DELIMITER) | word::any_equal(word, ESCAPE)
}

/// The octet that an escaped one stands for.
#[inline]
fn unescape(octet: u8) -> Result<u8, Reject> {
    match octet {
        ESCAPED_DELIMITER => Ok(DELIMITER),
        ESCAPED_ESCAPE => Ok(ESCAPE),
        _ if !holds(6) => Ok(octet),
        _ => Err(Reject::BadEscape),
    }
}

/// Decodes one candidate (no delimiters) into `out`; gives the octets written.
///
/// # Errors
/// [`Reject::BadEscape`] for an escape octet at the end or before an octet that is never escaped, [`Reject::TooLong`] if `out` is
/// too short.
pub fn decode(candidate: &[u8], out: &mut [u8]) -> Result<usize, Reject> {
    let mut out = Cursor::new(out);
    let mut octets = candidate.iter();
    while let Some(&octet) = octets.next() {
        let octet = if octet == ESCAPE { unescape(*octets.next().ok_or(Reject::BadEscape)?)? } else { octet };
        out.put(octet).map_err(|_| Reject::TooLong)?;
    }
    Ok(out.written())
}

/// Decodes one candidate (no delimiters) where it lies; gives the octets it decodes to, at the start of `candidate`.
///
/// # Errors
/// [`Reject::BadEscape`] as [`decode`]. What is in `candidate` is then undefined.
pub fn decode_in_place(candidate: &mut [u8]) -> Result<usize, Reject> {
    let (mut from, mut len) = (0_usize, 0_usize);
    while let Some(&octet) = candidate.get(from) {
        let octet = if octet == ESCAPE {
            from = from.wrapping_add(1);
            unescape(*candidate.get(from).ok_or(Reject::BadEscape)?)?
        } else {
            octet
        };
        from = from.wrapping_add(1);
        if let Some(cell) = candidate.get_mut(len) {
            *cell = octet;
            len = len.wrapping_add(1);
        }
    }
    Ok(len)
}

impl State {
    /// The verdict on octets that are no frame: they are as they came only if nothing was escaped.
    fn no_frame(&self, reject: Reject, octets: &[u8]) -> Step {
        if self.escaped { Step::Refused { reject, len: octets.len() } } else { no_frame(reject, octets) }
    }

    /// A delimiter came.
    fn end<C: Fcs>(&mut self, buffer: &[u8]) -> Option<Step> {
        let before = core::mem::take(self);
        let octets = buffer.get(..before.len)?;
        let judged = match before.phase {
            Phase::Skip => return None,
            _ if octets.is_empty() && !before.escaped && holds(2) => return None,
            _ if before.escape && holds(6) => Err(Reject::BadEscape),
            Phase::Rest => Err(Reject::TooLong),
            Phase::Collect => checked::<C>(octets.len(), C::update(C::INIT, octets)),
        };
        Some(match judged {
            Ok(len) => Step::Frame { start: 0, len },
            Err(reject) => before.no_frame(reject, octets),
        })
    }

    /// Refuses the candidate, or hands it out as text, before its end.
    fn give_up(&mut self, reject: Reject, buffer: &[u8]) -> Step {
        let before = core::mem::take(self);
        let step = before.no_frame(reject, buffer.get(..before.len).unwrap_or(&[]));
        self.phase = match step {
            _ if reject == Reject::TooLong && !holds(8) => Phase::Collect,
            Step::Text { .. } => Phase::Rest,
            _ => Phase::Skip,
        };
        step
    }

    /// Takes one octet that is no delimiter; a step means that it was not taken.
    fn take(&mut self, octet: u8, buffer: &mut [u8]) -> Option<Step> {
        if self.phase == Phase::Skip {
            return None;
        }
        let mut octet = octet;
        if self.escape {
            match unescape(octet) {
                Ok(plain) => octet = plain,
                Err(reject) => return Some(self.give_up(reject, buffer)),
            }
        } else if octet == ESCAPE {
            (self.escape, self.escaped) = (true, true);
            return None;
        }
        let Some(cell) = buffer.get_mut(self.len) else {
            return Some(self.give_up(Reject::TooLong, buffer));
        };
        *cell = octet;
        self.escape = false;
        self.len = self.len.wrapping_add(1);
        None
    }
}

impl Framing for Slip {
    type Order = super::order::Ordered;
    const DELIMITER: Option<u8> = Some(DELIMITER);
    type State = State;
    const START: State = State { len: 0, phase: Phase::Collect, escape: false, escaped: false };

    fn max_encoded_len(frame: usize) -> usize {
        max_encoded_len(frame).saturating_add(2)
    }

    fn encode(&self, parts: &[&[u8]], lead: Lead, out: &mut [u8]) -> Result<usize, NoRoom> {
        super::enclose(DELIMITER, lead, out, |out| encode(parts, out))
    }

    fn feed<C: Fcs>(&self, state: &mut State, input: &[u8], buffer: &mut [u8]) -> Fed {
        let mut at = 0_usize;
        loop {
            if cfg!(feature = "fcs-host") && !state.escape && state.phase != Phase::Skip {
                let room = buffer.get_mut(state.len..).unwrap_or(&mut []);
                let taken = word::copy_until(input.get(at..).unwrap_or(&[]), room, special);
                state.len = state.len.wrapping_add(taken);
                at = at.wrapping_add(taken);
            }
            let Some(&octet) = input.get(at) else {
                return Fed { consumed: input.len(), step: Step::More };
            };
            if octet != DELIMITER {
                if let Some(step) = state.take(octet, buffer) {
                    return Fed { consumed: at, step };
                }
            } else if let Some(step) = state.end::<C>(buffer) {
                return Fed { consumed: at.wrapping_add(1), step };
            }
            at = at.wrapping_add(1);
        }
    }

    fn held(&self, state: &State) -> usize {
        state.len
    }

    fn pending_text(&self, state: &State, buffer: &[u8]) -> usize {
        let held = buffer.get(..state.len).unwrap_or(&[]);
        if !state.escaped && is_text(held) { held.len() } else { 0 }
    }
}

#[cfg(test)]
mod tests;
