//! Frames of the extensions of a star (section 6 of the wire text): control octet, addresses if any, code, body.

use crate::{
    fcs::Fcs,
    frame::{Head, MAX_HEADER},
    framing::{Framing, Lead},
};

/// The control octet of an EXTENDED frame without addresses.
pub(super) const EXTENDED: u8 = 0xE0;

/// The code of the extension TURN (W-58).
pub(super) const TURN: u8 = 0x15;

/// Writes such a frame; gives its length, or zero if it does not fit. Addresses are the affair of the framing ([`Addressed`](super::Addressed)).
pub(super) fn write<F: Framing, C: Fcs>(
    framing: &F,
    code: u8,
    body: &[u8],
    lead: Lead,
    out: &mut [u8],
) -> usize {
    let mut octets = [0; MAX_HEADER];
    [octets[0], octets[1]] = [EXTENDED, code];
    framing.encode_frame::<C>(Head { octets: &octets, len: 2 }, body, lead, out).unwrap_or(0)
}
