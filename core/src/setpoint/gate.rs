//! What may move something must not come over a radio that anyone can forge (W-67).

use crate::{frame::Class, rules::holds};

/// The way that messages come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Way {
    /// A wire: who wants to forge must touch it.
    Wire,
    /// A radio, or a network, whose frames are not sealed: who is in range can forge and replay.
    Open,
}

/// Whether a message moves something.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Moves {
    /// It does not: a question, a lamp, a text.
    Nothing,
    /// It does, or heats, or cuts.
    Something,
    /// Nobody said so.
    NotKnown,
}

/// Why a message was held back.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum HeldBack {
    /// It moves something, and the way is open to anyone in range.
    OpenWay,
    /// Nobody said whether it moves something, and the way is open to anyone in range.
    OpenWayNotKnown,
}

impl HeldBack {
    /// The reason in plain words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::OpenWay => {
                "it moves something, and anyone in radio range can forge or replay frames that are not sealed"
            }
            Self::OpenWayNotKnown => {
                "it may move something, and anyone in radio range can forge or replay frames that are not sealed"
            }
        }
    }
}

impl core::fmt::Display for HeldBack {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(self.words())
    }
}

impl core::error::Error for HeldBack {}

/// What set-points and errands pass on their way to an actuator, before the [`DeadMan`](super::DeadMan): over an open way it holds back what moves something, unless
/// it was opened by hand.
///
/// A message held back was delivered as far as the wire goes: the board should say with a report of its own that it did not obey.
///
/// ```
/// use bellwire::{frame::Class, setpoint::{Gate, HeldBack, Moves, Way}};
///
/// let mut gate = Gate::new(Way::Open);
/// assert_eq!(gate.pass(Class::SetPoint, Moves::Something), Err(HeldBack::OpenWay));
/// assert_eq!(gate.pass(Class::Errand, Moves::Nothing), Ok(()));
/// assert_eq!(gate.held_back(), 1);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Gate {
    way: Way,
    opted_in: bool,
    held_back: u32,
}

impl Gate {
    /// A gate on this way, closed to what moves something if the way is open to anyone.
    #[must_use]
    pub const fn new(way: Way) -> Self {
        Self { way, opted_in: false, held_back: 0 }
    }

    /// Lets through what moves something although anyone in range can forge it. For machines that can hurt nobody, by the maker's decision: guard what moves, and keep the
    /// emergency stop at hand.
    #[must_use]
    pub const fn opted_in(self) -> Self {
        Self { opted_in: true, ..self }
    }

    /// Whether a message of this class may go on to what it moves. Reports and notices always may.
    ///
    /// # Errors
    /// [`HeldBack`]: why not.
    pub fn pass(&mut self, class: Class, moves: Moves) -> Result<(), HeldBack> {
        let open = matches!(self.way, Way::Open) && !self.opted_in && holds(67);
        let why = match (class, moves) {
            (Class::SetPoint | Class::Errand, Moves::Something) if open => HeldBack::OpenWay,
            (Class::SetPoint | Class::Errand, Moves::NotKnown) if open => HeldBack::OpenWayNotKnown,
            _ => return Ok(()),
        };
        self.held_back = self.held_back.saturating_add(1);
        Err(why)
    }

    /// How many messages were held back, at most 2^32 - 1.
    #[must_use]
    pub const fn held_back(&self) -> u32 {
        self.held_back
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_may_move_something_is_held_back_and_only_on_an_open_way_that_nobody_opened() {
        let moving = [Class::SetPoint, Class::Errand];
        for class in Class::ALL {
            for moves in [Moves::Nothing, Moves::Something, Moves::NotKnown] {
                for (gate, shut) in [
                    (Gate::new(Way::Wire), false),
                    (Gate::new(Way::Open), true),
                    (Gate::new(Way::Open).opted_in(), false),
                ] {
                    let mut after = gate;
                    let held = shut && moving.contains(&class) && moves != Moves::Nothing;
                    assert_eq!(after.pass(class, moves).is_err(), held, "{class:?} {moves:?} {gate:?}");
                    assert_eq!(after.held_back(), held.into());
                }
            }
        }
        assert_eq!(Gate::new(Way::Open).pass(Class::Errand, Moves::NotKnown), Err(HeldBack::OpenWayNotKnown));
    }
}
