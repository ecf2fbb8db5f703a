//! The decoder of one candidate.

use core::ops::Range;

use super::{FULL, SHORT};
use crate::{
    fcs::Fcs,
    frame::Reject,
    framing::candidate::{checked, shift},
    rules::holds,
};

/// One block at the start of `rest`: its octets, whether a zero follows it, and what comes after.
#[inline]
fn block(rest: &[u8]) -> Result<(&[u8], bool, &[u8]), Reject> {
    let (&code, tail) = rest.split_first().ok_or(Reject::TooShort)?;
    let len = usize::from(code).checked_sub(1).ok_or(Reject::BrokenCode)?;
    let (octets, after) = match tail.split_at_checked(len) {
        Some(halves) => halves,
        None if !holds(3) => (tail, &[][..]),
        None => return Err(Reject::BrokenCode),
    };
    if code == FULL && after == [1] && holds(4) {
        return Err(Reject::NotCanonical);
    }
    Ok((octets, code != FULL && !after.is_empty(), after))
}

/// A code that points past the end, where it is and what it was.
struct Broken {
    at: usize,
    code: u8,
}

/// Writes the implied zeros over the codes of a candidate of at most [`SHORT`] octets, of which the first code is `code`
/// and the rest, `after`, follows. A zero in the place of a code is broken, too.
#[inline(always)]
fn patch(code: u8, after: &mut [u8]) -> Result<(), Broken> {
    let mut code = code;
    let mut next = usize::from(code).wrapping_sub(1);
    while let Some(cell) = after.get_mut(next) {
        code = core::mem::replace(cell, 0);
        if code == 0 {
            break;
        }
        next = next.wrapping_add(usize::from(code));
    }
    if next != after.len() && holds(3) {
        // Counted from the first code, which stands right before `after`.
        return Err(Broken { at: next.wrapping_add(1).wrapping_sub(usize::from(code)), code });
    }
    Ok(())
}

/// Undoes [`patch`] for the codes before `end`.
#[cold]
#[inline(never)]
fn restore(candidate: &mut [u8], end: usize) {
    let mut next = end;
    for at in (1..end).rev() {
        if let Some(cell) = candidate.get_mut(at).filter(|cell| **cell == 0) {
            *cell = u8::try_from(next.wrapping_sub(at)).unwrap_or(FULL);
            next = at;
        }
    }
}

/// Decodes one candidate into `out`; gives the octets written.
///
/// A candidate is what lies between two delimiters: the caller must have split the stream at every zero octet. None is looked for but in the
/// place of a code; one among the octets of a block is copied as it is, so that what such input decodes to is not the only
/// thing that [`super::encode`] gives (W-4). Nothing worse happens.
///
/// # Errors
/// [`Reject::BrokenCode`] if a code is zero or points past the end, [`Reject::NotCanonical`] for an encoding that
/// [`super::encode`] never makes, [`Reject::TooShort`] for no octets at all, [`Reject::TooLong`] if `out` is too short.
#[inline]
pub fn decode(candidate: &[u8], out: &mut [u8]) -> Result<usize, Reject> {
    if candidate.len() > SHORT {
        return decode_long(candidate, out);
    }
    let (&code, after) = candidate.split_first().ok_or(Reject::TooShort)?;
    let out = out.get_mut(..after.len()).ok_or(Reject::TooLong)?;
    out.copy_from_slice(after);
    patch(code, out).map_err(|_| Reject::BrokenCode)?;
    Ok(out.len())
}

fn decode_long(candidate: &[u8], out: &mut [u8]) -> Result<usize, Reject> {
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

/// Decodes one candidate where it lies; gives where the octets it decodes to now are. As for [`decode`], the caller must have split the
/// stream at every zero octet.
///
/// # Errors
/// As [`decode`], but never [`Reject::TooLong`]. What is in `candidate` is then undefined.
#[inline]
pub fn decode_in_place(candidate: &mut [u8]) -> Result<Range<usize>, Reject> {
    if candidate.len() > SHORT {
        return Ok(0..unstuff(candidate)?);
    }
    let len = candidate.len();
    let (&mut code, after) = candidate.split_first_mut().ok_or(Reject::TooShort)?;
    patch(code, after).map_err(|_| Reject::BrokenCode)?;
    Ok(1..len)
}

/// Decodes a candidate of any length to its own start; gives the octets.
fn unstuff(candidate: &mut [u8]) -> Result<usize, Reject> {
    let mut from = 0_usize;
    let mut len = 0_usize;
    loop {
        let (octets, zero, after) = block(candidate.get(from..).unwrap_or(&[]))?;
        let (octets, is_last) = (octets.len(), after.is_empty());
        let first = from.wrapping_add(1);
        from = first.wrapping_add(octets);
        len = shift(candidate, first..from, len);
        if zero && let Some(cell) = candidate.get_mut(len) {
            *cell = 0;
            len = len.wrapping_add(1);
        }
        if is_last {
            return Ok(len);
        }
    }
}

/// Decodes one candidate where it lies and checks its FCS, for a host that finds delimiters itself, many octets at a time;
/// [`super::Cobs`] does the same for a stream. Gives where the frame now is, without the FCS. As for [`decode`], the caller must have split the
/// stream at every zero octet.
///
/// # Errors
/// As [`decode_in_place`], [`Reject::TooShort`] also below the fewest octets of a frame, [`Reject::BadFcs`] if the FCS differs. The
/// candidate is then as it was (if there was no zero in it).
#[inline]
pub fn check_in_place<C: Fcs>(candidate: &mut [u8]) -> Result<Range<usize>, Reject> {
    check::<C>(candidate)
}

/// Checks a candidate without a zero and decodes it where it lies; gives where its frame is, without the FCS.
///
/// On an error the candidate is as it was.
#[inline(always)]
pub(super) fn check<C: Fcs>(candidate: &mut [u8]) -> Result<Range<usize>, Reject> {
    if candidate.len() <= SHORT {
        check_short::<C>(candidate)
    } else {
        let len = judge::<C>(candidate)?;
        unstuff(candidate)?;
        Ok(0..len)
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

/// As [`judge`] and [`unstuff`] for a candidate of at most [`SHORT`] octets: decodes first, so that the FCS runs over all octets at once
/// and none is moved, and undoes that if the candidate is no frame.
#[inline(always)]
fn check_short<C: Fcs>(candidate: &mut [u8]) -> Result<Range<usize>, Reject> {
    let (&mut first, after) = candidate.split_first_mut().ok_or(Reject::TooShort)?;
    if let Err(Broken { at, code }) = patch(first, after) {
        restore(candidate, at);
        if let Some(cell) = candidate.get_mut(at) {
            *cell = code;
        }
        return Err(Reject::BrokenCode);
    }
    match checked::<C>(after.len(), C::update(C::INIT, after)) {
        Ok(len) => Ok(1..len.wrapping_add(1)),
        Err(reject) => {
            restore(candidate, candidate.len());
            Err(reject)
        }
    }
}
