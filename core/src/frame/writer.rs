//! A frame to octets on the wire.

use super::{Head, Header, MAX_HEADER};
use crate::{
    fcs::Fcs,
    framing::{Framing, Lead, NoRoom},
};

/// Writes one frame (header, payload, FCS) with its framing into `out`, in one pass; gives the octets written.
///
/// # Errors
/// [`NoRoom`] if `out` is too short; [`max_wire_len`] octets are always enough. What is in `out` is then undefined.
#[inline]
pub fn write<F: Framing, C: Fcs>(
    framing: &F,
    header: &Header,
    payload: &[u8],
    lead: Lead,
    out: &mut [u8],
) -> Result<usize, NoRoom> {
    let mut octets = [0; MAX_HEADER];
    let len = header.write(&mut octets);
    framing.encode_frame::<C>(Head { octets: &octets, len }, payload, lead, out)
}

/// The most octets on the wire that a frame with a payload of `payload` octets takes, delimiters included.
#[must_use]
pub fn max_wire_len<F: Framing, C: Fcs>(payload: usize) -> usize {
    F::max_encoded_len(payload.saturating_add(MAX_HEADER).saturating_add(C::LEN))
}
