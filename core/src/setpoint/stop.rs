//! What "stop" means for an actuator.

/// What an actuator does when it is to stop. Zero speed alone does not say it: a dome on a slope rolls at zero drive.
///
/// The choice is made once for each actuator, by hand, and belongs into the agreement of the machine.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Stop {
    /// Stay where it is, under power: a position is held against a load.
    Hold,
    /// Short the motor or close the brake: it comes to rest quickly and resists.
    Brake,
    /// Let it run out: no drive, no braking.
    Coast,
    /// Cut the supply of the actuator: heaters, lamps, pumps.
    Off,
}

impl Stop {
    /// All meanings.
    pub const ALL: [Self; 4] = [Self::Hold, Self::Brake, Self::Coast, Self::Off];

    /// In lower case: `hold`, `brake`, `coast`, `off`.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Hold => "hold",
            Self::Brake => "brake",
            Self::Coast => "coast",
            Self::Off => "off",
        }
    }
}
