//! The check of the whole content.

use crate::fcs::{Fcs, Fcs32};

/// A running CRC-32/ISO-HDLC (W-11) over the content, from its first octet to its last, in pieces of any length.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Whole(u32);

impl Whole {
    /// Over no octet yet.
    #[must_use]
    pub const fn new() -> Self {
        Self(Fcs32::INIT)
    }

    /// Takes the next piece.
    pub fn update(&mut self, piece: &[u8]) {
        self.0 = Fcs32::update(self.0, piece);
    }

    /// The CRC over all pieces so far.
    #[must_use]
    pub const fn crc(&self) -> u32 {
        !self.0
    }
}

impl Default for Whole {
    fn default() -> Self {
        Self::new()
    }
}

/// The CRC of a content that lies in memory as a whole.
#[must_use]
pub fn crc_of(content: &[u8]) -> u32 {
    let mut whole = Whole::new();
    whole.update(content);
    whole.crc()
}
