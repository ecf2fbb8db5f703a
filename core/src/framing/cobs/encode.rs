//! The encoder: one pass over the parts of a frame.

use super::{FULL, MAX_BLOCK, word};
use crate::framing::NoRoom;

/// Encodes octets given in parts, without delimiters; gives the octets written, none of them zero.
///
/// # Errors
/// [`NoRoom`] if `out` is too short; [`super::max_encoded_len`] is always enough.
#[inline]
pub fn encode(parts: &[&[u8]], out: &mut [u8]) -> Result<usize, NoRoom> {
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
        let end = self.at.wrapping_add(taken.len());
        out.get_mut(self.at..end).ok_or(NoRoom)?.copy_from_slice(taken);
        let start = self.at;
        self.at = end;
        if cfg!(feature = "fcs-host") {
            self.close_at_zeros_by_words(start, taken, out)?;
        } else {
            self.close_at_zeros(start, taken, out)?;
        }
        Ok(rest)
    }

    /// Closes a block at each zero among octets written to `start`: the place of the zero takes the code of the next block.
    #[inline]
    fn close_at_zeros(&mut self, start: usize, octets: &[u8], out: &mut [u8]) -> Result<(), NoRoom> {
        let mut at = start;
        for &octet in octets {
            if octet == 0 {
                self.close(at, out)?;
            }
            at = at.wrapping_add(1);
        }
        Ok(())
    }

    /// As [`Block::close_at_zeros`], eight octets at a time.
    #[inline]
    fn close_at_zeros_by_words(&mut self, start: usize, octets: &[u8], out: &mut [u8]) -> Result<(), NoRoom> {
        let (words, rest) = octets.as_chunks::<8>();
        let mut at = start;
        for octets in words {
            let mut zeros = word::zeros(*octets);
            while zeros != 0 {
                self.close(at.wrapping_add(word::first(zeros)), out)?;
                zeros &= zeros.wrapping_sub(1);
            }
            at = at.wrapping_add(8);
        }
        self.close_at_zeros(at, rest, out)
    }

    #[inline]
    #[allow(clippy::cast_possible_truncation)]
    fn close(&mut self, zero_at: usize, out: &mut [u8]) -> Result<(), NoRoom> {
        *out.get_mut(self.code_at).ok_or(NoRoom)? = zero_at.wrapping_sub(self.code_at) as u8;
        self.code_at = zero_at;
        Ok(())
    }
}
