//! What the framings share: a candidate being collected at the start of a buffer, and the verdict on it.

use core::ops::Range;

use super::{NoRoom, Step, is_text, word};
use crate::{
    fcs::{self, Fcs},
    frame::Reject,
    rules::holds,
};

/// Where a decoder stands within a candidate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(super) enum Phase {
    /// Collecting.
    #[default]
    Collect,
    /// Collecting the rest of a text of which pieces were handed out: no frame any more.
    Rest,
    /// Refused: skipping to the delimiter.
    Skip,
}

/// The verdict on a candidate that is no frame: text if it is text alone (W-9), else refused.
///
/// `raw` is the candidate as it came, which must also be what the buffer starts with.
pub(super) fn no_frame(reject: Reject, raw: &[u8]) -> Step {
    let len = raw.len();
    if holds(9) && is_text(raw) { Step::Text { len } } else { Step::Refused { reject, len } }
}

/// The length of a frame without its FCS, from its length with it and the FCS register over all of it (W-10, W-11).
pub(super) fn checked<C: Fcs>(len: usize, register: u32) -> Result<usize, Reject> {
    if len < fcs::min_frame::<C>() && holds(10) {
        return Err(Reject::TooShort);
    }
    if register != C::RESIDUE && holds(11) {
        return Err(Reject::BadFcs);
    }
    Ok(len.saturating_sub(C::LEN))
}

/// Moves octets toward the start of a buffer; gives the end of where they are then.
///
/// Zeros are left behind: a bare copy would become a call of `memmove`, which is 800 octets of code on the smallest boards.
pub(super) fn shift(buffer: &mut [u8], from: Range<usize>, to: usize) -> usize {
    let mut to = to;
    for at in from {
        let octet = buffer.get_mut(at).map(core::mem::take).unwrap_or(0);
        if let Some(cell) = buffer.get_mut(to) {
            *cell = octet;
        }
        to = to.wrapping_add(1);
    }
    to
}

/// Octets written one after the other.
pub(super) struct Cursor<'a> {
    out: &'a mut [u8],
    at: usize,
}

impl<'a> Cursor<'a> {
    pub(super) const fn new(out: &'a mut [u8]) -> Self {
        Self { out, at: 0 }
    }

    #[inline]
    pub(super) fn put(&mut self, octet: u8) -> Result<(), NoRoom> {
        *self.out.get_mut(self.at).ok_or(NoRoom)? = octet;
        self.at = self.at.wrapping_add(1);
        Ok(())
    }

    #[inline]
    pub(super) fn extend(&mut self, octets: &[u8]) -> Result<(), NoRoom> {
        let end = self.at.wrapping_add(octets.len());
        self.out.get_mut(self.at..end).ok_or(NoRoom)?.copy_from_slice(octets);
        self.at = end;
        Ok(())
    }

    /// Takes octets up to the first special one (see [`word::copy_until`]), as many as fit; gives the rest.
    #[inline(always)]
    pub(super) fn extend_until<'b>(&mut self, octets: &'b [u8], special: impl Fn(u64) -> u64) -> &'b [u8] {
        let taken = word::copy_until(octets, self.out.get_mut(self.at..).unwrap_or(&mut []), special);
        self.at = self.at.wrapping_add(taken);
        octets.get(taken..).unwrap_or(&[])
    }

    pub(super) const fn written(&self) -> usize {
        self.at
    }
}
