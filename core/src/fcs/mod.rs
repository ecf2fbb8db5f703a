//! Frame check sequences (W-10, W-11): 16-bit IBM-SDLC and 32-bit ISO-HDLC, on tables chosen by feature.
//!
//! | feature | table octets, 16-bit | table octets, 32-bit | one step takes |
//! |---|---|---|---|
//! | none | 0 (see below) | 0 | one bit |
//! | `fcs-nibble` (default) | 32 | 64 | four bits |
//! | `fcs-table` | 512 | 1024 | one octet |
//! | `fcs-host` | 8192 | 16384 | sixteen octets |
//!
//! The largest one chosen wins. A table is only linked in if its FCS is used.
//!
//! Without a table the compiler may make one by itself: at `opt-level` 1 to 3 LLVM can recognise the loop over bits and put a
//! table of 256 entries into read-only data. At `s` and `z` it does not.
//!
//! Sources: RFC 1662 appendix C for both; the names, check values and residues are those of the RevEng catalogue of parametrised
//! CRC algorithms.

#[cfg(any(test, not(any(feature = "fcs-nibble", feature = "fcs-table", feature = "fcs-host"))))]
mod bitwise;
#[cfg(any(test, all(feature = "fcs-nibble", not(any(feature = "fcs-table", feature = "fcs-host")))))]
mod nibble;
#[cfg(any(test, feature = "fcs-host"))]
mod slices;
#[cfg(any(test, all(feature = "fcs-table", not(feature = "fcs-host"))))]
mod table;
#[cfg(any(test, feature = "fcs-nibble", feature = "fcs-table", feature = "fcs-host"))]
mod tables;

#[cfg(not(any(feature = "fcs-nibble", feature = "fcs-table", feature = "fcs-host")))]
use bitwise as chosen;
#[cfg(all(feature = "fcs-nibble", not(any(feature = "fcs-table", feature = "fcs-host"))))]
use nibble as chosen;
#[cfg(feature = "fcs-host")]
use slices as chosen;
#[cfg(all(feature = "fcs-table", not(feature = "fcs-host")))]
use table as chosen;

/// The polynomial 0x1021 with its bits reversed (RFC 1662 section C.1).
const POLYNOMIAL_16: u16 = 0x8408;
/// The polynomial 0x04C11DB7 with its bits reversed (RFC 1662 section C.3).
const POLYNOMIAL_32: u32 = 0xEDB8_8320;

/// A frame check sequence: a running register over the octets of a frame.
///
/// [`Fcs16`] and [`Fcs32`] are the two that the wire knows.
pub trait Fcs: Copy + Eq + core::hash::Hash + core::fmt::Debug + Default {
    /// Octets on the wire: 2 or 4.
    const LEN: usize;
    /// Name in the RevEng catalogue of parametrised CRC algorithms.
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

/// The low 16 bits of a register.
#[allow(clippy::cast_possible_truncation)]
const fn low(state: u32) -> u16 {
    state as u16
}

impl Fcs for Fcs16 {
    const LEN: usize = 2;
    const NAME: &'static str = "CRC-16/IBM-SDLC";
    const INIT: u32 = 0xFFFF;
    const RESIDUE: u32 = 0xF0B8;

    #[inline]
    fn update(state: u32, more: &[u8]) -> u32 {
        u32::from(chosen::update_16(low(state), more))
    }

    #[inline]
    fn octets(state: u32) -> [u8; 4] {
        (state ^ 0xFFFF).to_le_bytes()
    }
}

impl Fcs for Fcs32 {
    const LEN: usize = 4;
    const NAME: &'static str = "CRC-32/ISO-HDLC";
    const INIT: u32 = 0xFFFF_FFFF;
    const RESIDUE: u32 = 0xDEBB_20E3;

    #[inline]
    fn update(state: u32, more: &[u8]) -> u32 {
        chosen::update_32(state, more)
    }

    #[inline]
    fn octets(state: u32) -> [u8; 4] {
        (!state).to_le_bytes()
    }
}

#[cfg(test)]
mod tests;
