//! What the user states about a leaf when it is made.

use crate::link::Config;

/// Where a leaf's short address comes from (W-60).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Address {
    /// Set by hand on both boards, 1..=250: the leaf opens at once, without a JOIN. For hubs that keep no roster, and for shared wires, on which nobody without an
    /// address has a turn.
    Known(u8),
    /// Set by hand on the leaf, 1..=250: it asks for this one, so that the hub can tell two boards with one address apart.
    Wanted(u8),
    /// The hub's to choose. With every session that ends the leaf asks again, and gets the one that it had if the hub remembers it.
    Asked,
}

/// What the user states about a leaf.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct LeafConfig {
    /// What is stated of its link. The identity must not be 0 unless the address is [`Known`](Address::Known).
    pub link: Config,
    /// Where its address comes from.
    pub address: Address,
    /// How long it listens after each frame that it sends or hears, ms; 0: always (W-61).
    pub awake: u16,
}

impl LeafConfig {
    /// A leaf that never sleeps.
    #[must_use]
    pub const fn new(link: Config, address: Address) -> Self {
        Self { link, address, awake: 0 }
    }
}
