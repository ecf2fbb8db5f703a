//! No framing: the medium keeps frames apart (W-7).

use super::{
    Fed, Framing, Lead, NoRoom, Step,
    candidate::{Cursor, checked, no_frame},
    is_text,
};
use crate::{fcs::Fcs, frame::Reject, rules::holds};

/// One frame is one datagram, for radio and UDP.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Datagram;

/// State of the decoder.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct State {
    /// Octets still to come of a datagram that is text and longer than the buffer.
    text_left: usize,
}

/// The most octets that `n` octets take when encoded: n.
#[must_use]
pub const fn max_encoded_len(n: usize) -> usize {
    n
}

/// Encodes octets given in parts, which is to copy them; gives the octets written.
///
/// # Errors
/// [`NoRoom`] if `out` is too short; [`max_encoded_len`] is always enough.
pub fn encode(parts: &[&[u8]], out: &mut [u8]) -> Result<usize, NoRoom> {
    let mut out = Cursor::new(out);
    for part in parts {
        out.extend(part)?;
    }
    Ok(out.written())
}

/// Copies the octets of one datagram into `out`; gives the octets written.
///
/// # Errors
/// [`Reject::TooLong`] if `out` is too short.
pub fn decode(datagram: &[u8], out: &mut [u8]) -> Result<usize, Reject> {
    encode(&[datagram], out).map_err(|NoRoom| Reject::TooLong)
}

/// There is nothing to decode: gives the length of the datagram.
///
/// # Errors
/// None.
pub const fn decode_in_place(datagram: &mut [u8]) -> Result<usize, Reject> {
    Ok(datagram.len())
}

/// Copies as many octets as fit; gives how many.
fn copy(from: &[u8], to: &mut [u8]) -> usize {
    let len = from.len().min(to.len());
    if let (Some(from), Some(to)) = (from.get(..len), to.get_mut(..len)) {
        to.copy_from_slice(from);
    }
    len
}

impl Framing for Datagram {
    type Order = super::order::Unordered;
    const DELIMITER: Option<u8> = None;
    type State = State;
    const START: State = State { text_left: 0 };

    fn max_encoded_len(frame: usize) -> usize {
        max_encoded_len(frame)
    }

    fn encode(&self, parts: &[&[u8]], _: Lead, out: &mut [u8]) -> Result<usize, NoRoom> {
        if !holds(7) {
            return super::enclose(0, Lead::Delimiter, out, |out| encode(parts, out));
        }
        encode(parts, out)
    }

    /// `input` is one whole datagram, or what a step has left of one.
    fn feed<C: Fcs>(&self, state: &mut State, input: &[u8], buffer: &mut [u8]) -> Fed {
        if input.is_empty() {
            return Fed { consumed: 0, step: Step::More };
        }
        let left = core::mem::take(&mut state.text_left);
        let len = copy(input, buffer);
        let held = buffer.get(..len).unwrap_or(&[]);
        let is_cut = len < input.len();
        let long_text = is_cut && len > 0 && holds(9) && is_text(input);
        if left > 0 || long_text {
            state.text_left = input.len().saturating_sub(len);
            return Fed { consumed: len, step: Step::Text { len } };
        }
        let step = if is_cut && holds(8) {
            Step::Refused { reject: Reject::TooLong, len }
        } else {
            match checked::<C>(len, C::update(C::INIT, held)) {
                Ok(len) => Step::Frame { start: 0, len },
                Err(reject) => no_frame(reject, held),
            }
        };
        Fed { consumed: input.len(), step }
    }

    fn held(&self, _: &State) -> usize {
        0
    }

    fn pending_text(&self, _: &State, _: &[u8]) -> usize {
        0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fcs::Fcs16;

    fn step(datagram: &[u8], buffer: &mut [u8]) -> Fed {
        Datagram.feed::<Fcs16>(&mut State::default(), datagram, buffer)
    }

    /// W-7, W-8, W-10, W-11.
    #[test]
    fn one_datagram_is_one_candidate() {
        let mut wire = [0; 8];
        let fcs = Fcs16::octets(Fcs16::update(Fcs16::INIT, &[0xA0, 1, 2]));
        // The lead means nothing here, and the worst case is the only case.
        assert_eq!(Datagram.encode(&[&[0xA0, 1, 2], &fcs[..2]], Lead::Delimiter, &mut wire), Ok(5));
        assert_eq!(
            Datagram.encode(&[&[0xA0, 1, 2], &fcs[..2]], Lead::BackToBack, &mut wire[..4]),
            Err(NoRoom)
        );
        let mut buffer = [0; 5];
        assert_eq!(
            step(&wire[..5], &mut buffer),
            Fed { consumed: 5, step: Step::Frame { start: 0, len: 3 } }
        );
        assert_eq!(buffer[..3], [0xA0, 1, 2]);
        let refused = |reject, len, consumed| Fed { consumed, step: Step::Refused { reject, len } };
        assert_eq!(step(&wire[..5], &mut [0; 4]), refused(Reject::TooLong, 4, 5));
        assert_eq!(step(&wire[..3], &mut buffer), refused(Reject::TooShort, 3, 3));
        assert_eq!(step(&wire[..4], &mut buffer), refused(Reject::BadFcs, 4, 4));
        assert_eq!(step(&[], &mut buffer), Fed { consumed: 0, step: Step::More });
        assert_eq!(step(b"ok\r\n", &mut buffer).step, Step::Text { len: 4 });
        assert_eq!(step(&[0x80; 9], &mut []).step, Step::Refused { reject: Reject::TooLong, len: 0 });
    }
}
