//! Which control characters octet stuffing keeps off the wire (W-5).

/// Which control characters a link keeps off the wire: bit n stands for octet n (0x00..=0x1F).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ControlMap(pub u32);

impl ControlMap {
    /// No control character is escaped.
    pub const NONE: Self = Self(0);
    /// 0x03, 0x11 and 0x13: a console on the same wire never sees an interrupt or a flow-control character.
    pub const CONSOLE_SAFE: Self = Self(0x000A_0008);
    /// All of them: the default of asynchronous lines in RFC 1662 section 7.1.
    pub const ALL: Self = Self(0xFFFF_FFFF);

    /// Whether the map names this octet.
    #[must_use]
    pub const fn names(self, octet: u8) -> bool {
        octet < 0x20 && self.0 >> octet & 1 == 1
    }
}
