//! Frame check sequences (W-10, W-11): 16-bit IBM-SDLC and 32-bit ISO-HDLC, on tables chosen by feature.

/// A frame check sequence: a running register over the octets of a frame.
///
/// `Fcs16` and `Fcs32` are the two that the wire knows.
pub trait Fcs: Copy + Eq + core::hash::Hash + core::fmt::Debug + Default {
    /// Octets on the wire: 2 or 4.
    const LEN: usize;
    /// Name in the catalogue of parametrised CRC algorithms.
    const NAME: &'static str;
    /// The register after the octets `more`, from the register `state`. Start with [`Fcs::INIT`].
    fn update(state: u32, more: &[u8]) -> u32;
    /// The register before any octet.
    const INIT: u32;
    /// The register after a whole frame with its FCS, if it is undamaged (before the final xor).
    const RESIDUE: u32;
    /// The octets to send after the frame, least significant first; the first [`Fcs::LEN`] of the four count.
    fn octets(state: u32) -> [u8; 4];
}

/// CRC-16/IBM-SDLC, the FCS of RFC 1662 section C.2.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Fcs16;

/// CRC-32/ISO-HDLC, the FCS of RFC 1662 section C.3.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Fcs32;

/// The fewest octets of a frame with its FCS (W-10): 4 with the 16-bit FCS (RFC 1662 section 4.3), 5 with the 32-bit one.
#[must_use]
pub const fn min_frame<C: Fcs>() -> usize {
    if C::LEN == 2 { 4 } else { 5 }
}

const fn bitwise(mut state: u32, octet: u8, poly: u32) -> u32 {
    state ^= octet as u32;
    let mut bit = 0u8;
    while bit < 8 {
        state = if state & 1 == 1 { (state >> 1) ^ poly } else { state >> 1 };
        bit = bit.wrapping_add(1);
    }
    state
}

impl Fcs for Fcs16 {
    const LEN: usize = 2;
    const NAME: &'static str = "CRC-16/IBM-SDLC";
    const INIT: u32 = 0xFFFF;
    const RESIDUE: u32 = 0xF0B8;
    fn update(state: u32, more: &[u8]) -> u32 {
        more.iter().fold(state, |state, &octet| bitwise(state, octet, 0x8408))
    }
    fn octets(state: u32) -> [u8; 4] {
        (state ^ 0xFFFF).to_le_bytes()
    }
}

impl Fcs for Fcs32 {
    const LEN: usize = 4;
    const NAME: &'static str = "CRC-32/ISO-HDLC";
    const INIT: u32 = 0xFFFF_FFFF;
    const RESIDUE: u32 = 0xDEBB_20E3;
    fn update(state: u32, more: &[u8]) -> u32 {
        more.iter().fold(state, |state, &octet| bitwise(state, octet, 0xEDB8_8320))
    }
    fn octets(state: u32) -> [u8; 4] {
        (!state).to_le_bytes()
    }
}
