//! The encoder: one pass over the parts of a frame.

use super::{FULL, MAX_BLOCK, SHORT};
use crate::{
    fcs::Fcs,
    frame::{Head, MAX_HEADER},
    framing::{NoRoom, word},
};

/// Encodes octets given in parts, without delimiters; gives the octets written, none of them zero.
///
/// # Errors
/// [`NoRoom`] if `out` is too short; [`super::max_encoded_len`] is always enough.
#[inline]
pub fn encode(parts: &[&[u8]], out: &mut [u8]) -> Result<usize, NoRoom> {
    if cfg!(feature = "fcs-host") {
        if let [octets] = parts
            && octets.len() <= MAX_BLOCK
        {
            let (_, rest) = out.split_first_mut().ok_or(NoRoom)?;
            rest.get_mut(..octets.len()).ok_or(NoRoom)?.copy_from_slice(octets);
            return chain(out.get_mut(..octets.len().wrapping_add(1)).ok_or(NoRoom)?);
        }
        let len = parts.iter().fold(1_usize, |len, part| len.wrapping_add(part.len()));
        if len <= SHORT {
            return short(parts, out.get_mut(..len).ok_or(NoRoom)?);
        }
    }
    blocks(parts, out)
}

/// Encodes a frame of head and payload with its FCS, without delimiters; gives the octets written.
#[inline]
pub(super) fn frame<C: Fcs>(head: Head<'_>, payload: &[u8], out: &mut [u8]) -> Result<usize, NoRoom> {
    if cfg!(feature = "fcs-host")
        && payload.len() < SHORT.wrapping_sub(MAX_HEADER.wrapping_add(C::LEN))
        && let Some(space) = out.get_mut(1..).and_then(|rest| rest.first_chunk_mut::<MAX_HEADER>())
    {
        // All of the head's octets are copied, because that is one instruction; the payload goes over those that are not used.
        *space = *head.octets;
        let start = head.len.wrapping_add(1);
        let end = start.wrapping_add(payload.len());
        let out = out.get_mut(..end.wrapping_add(C::LEN)).ok_or(NoRoom)?;
        let (frame, tail) = out.split_at_mut_checked(end).ok_or(NoRoom)?;
        frame.get_mut(start..).ok_or(NoRoom)?.copy_from_slice(payload);
        let fcs = C::octets(C::update(C::INIT, frame.get(1..).unwrap_or(&[])));
        match (tail.first_chunk_mut::<4>(), fcs) {
            (Some(tail), fcs) if C::LEN == 4 => *tail = fcs,
            (_, [low, high, ..]) => *tail.first_chunk_mut::<2>().ok_or(NoRoom)? = [low, high],
        }
        return chain(out);
    }
    let fcs = C::octets(C::update(C::update(C::INIT, head.as_slice()), payload));
    encode(&[head.as_slice(), payload, fcs.get(..C::LEN).unwrap_or(&fcs)], out)
}

/// Encodes at most [`MAX_BLOCK`] octets, for hosts: gathers them behind the first code, then turns zeros into codes in place.
/// `out` is as long as the outcome.
fn short(parts: &[&[u8]], out: &mut [u8]) -> Result<usize, NoRoom> {
    let mut at = 1_usize;
    for part in parts {
        let end = at.wrapping_add(part.len());
        out.get_mut(at..end).ok_or(NoRoom)?.copy_from_slice(part);
        at = end;
    }
    chain(out)
}

/// Turns zeros into codes in place.
#[inline(always)]
fn chain(out: &mut [u8]) -> Result<usize, NoRoom> {
    let mut block = Block { code_at: 0, at: 1 };
    while let Some(octets) = out.get(block.at..).and_then(|rest| rest.first_chunk::<8>()) {
        block.close_at_zeros(word::zeros(*octets), out)?;
        block.at = block.at.wrapping_add(8);
    }
    let left = out.len().wrapping_sub(block.at);
    if left == 0 {
    } else if let Some(octets) = out.last_chunk::<8>() {
        // The last eight octets overlap those that are done.
        block.at = out.len().wrapping_sub(8);
        block.close_at_zeros(word::zeros(*octets) & word::last(left), out)?;
    } else {
        for at in block.at..out.len() {
            if out.get(at) == Some(&0) {
                block.close(at, out)?;
            }
        }
    }
    block.at = out.len();
    *out.get_mut(block.code_at).ok_or(NoRoom)? = block.code();
    Ok(block.at)
}

/// Encodes any number of octets, block by block.
pub(super) fn blocks(parts: &[&[u8]], out: &mut [u8]) -> Result<usize, NoRoom> {
    let mut block = Block { code_at: 0, at: 1 };
    for part in parts {
        let mut rest = *part;
        while !rest.is_empty() {
            rest = block.take(rest, out)?;
        }
    }
    *out.get_mut(block.code_at).ok_or(NoRoom)? = block.code();
    Ok(block.at)
}

/// The block that is being written.
struct Block {
    /// Where its code goes.
    code_at: usize,
    /// Where its next octet goes.
    at: usize,
}

impl Block {
    /// Its code if it ended here; at most [`FULL`], because [`Block::take`] closes full blocks.
    #[inline]
    #[allow(clippy::cast_possible_truncation)]
    const fn code(&self) -> u8 {
        self.at.wrapping_sub(self.code_at) as u8
    }

    /// Takes as many octets as surely fit into this block and gives the rest.
    #[inline]
    fn take<'a>(&mut self, octets: &'a [u8], out: &mut [u8]) -> Result<&'a [u8], NoRoom> {
        if self.code() == FULL {
            // Closed only now that another octet follows (W-4).
            *out.get_mut(self.code_at).ok_or(NoRoom)? = FULL;
            self.code_at = self.at;
            self.at = self.at.wrapping_add(1);
        }
        let room = MAX_BLOCK.wrapping_sub(self.at.wrapping_sub(self.code_at).wrapping_sub(1));
        let (taken, rest) = octets.split_at_checked(room).unwrap_or((octets, &[]));
        if cfg!(not(feature = "fcs-host")) {
            for &octet in taken {
                *out.get_mut(self.at).ok_or(NoRoom)? = octet;
                if octet == 0 {
                    self.close(self.at, out)?;
                }
                self.at = self.at.wrapping_add(1);
            }
            return Ok(rest);
        }
        let end = self.at.wrapping_add(taken.len());
        out.get_mut(self.at..end).ok_or(NoRoom)?.copy_from_slice(taken);
        let (words, tail) = taken.as_chunks::<8>();
        for octets in words {
            self.close_at_zeros(word::zeros(*octets), out)?;
            self.at = self.at.wrapping_add(8);
        }
        for &octet in tail {
            if octet == 0 {
                self.close(self.at, out)?;
            }
            self.at = self.at.wrapping_add(1);
        }
        Ok(rest)
    }

    /// Closes a block at each zero of the next eight octets: the place of the zero takes the code of the next block.
    #[inline(always)]
    fn close_at_zeros(&mut self, mut zeros: u64, out: &mut [u8]) -> Result<(), NoRoom> {
        if zeros == word::ALL {
            // Seven empty blocks in a row.
            self.close(self.at, out)?;
            let places = out.get_mut(self.at..).and_then(|rest| rest.first_chunk_mut::<8>());
            *places.ok_or(NoRoom)? = [1; 8];
            self.code_at = self.at.wrapping_add(7);
            return Ok(());
        }
        while zeros != 0 {
            self.close(self.at.wrapping_add(word::first(zeros)), out)?;
            zeros &= zeros.wrapping_sub(1);
        }
        Ok(())
    }

    #[inline]
    #[allow(clippy::cast_possible_truncation)]
    fn close(&mut self, zero_at: usize, out: &mut [u8]) -> Result<(), NoRoom> {
        *out.get_mut(self.code_at).ok_or(NoRoom)? = zero_at.wrapping_sub(self.code_at) as u8;
        self.code_at = zero_at;
        Ok(())
    }
}
