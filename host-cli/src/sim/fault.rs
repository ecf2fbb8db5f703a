//! What can go wrong on a line, and how often it did.

use super::seed::Dice;
use core::time::Duration;

/// Odds of damage on a line; all are zero in [`Faults::NONE`].
///
/// Odds are per octet or per write; a write is what a board hands to its driver at once, and a link hands over one
/// frame. Octets are damaged in the order drop, flip, double, insert.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Faults {
    /// Per octet: it never arrives. Octet lines only.
    pub drop: f64,
    /// Per octet: one of its bits, each with the same odds, is turned over.
    pub flip: f64,
    /// Per octet: it arrives twice. Octet lines only.
    pub double: f64,
    /// Per octet: a random octet arrives after it. Octet lines only.
    pub insert: f64,
    /// Per write: none of it arrives.
    pub lose: f64,
    /// Per write: a second copy arrives. Datagram lines only.
    pub copy: f64,
    /// Per copy of a write: it arrives late, so that others overtake it. Datagram lines only.
    pub late: f64,
    /// The longest lateness; each time between 0 and this.
    pub late_by: Duration,
    /// Bad spells, if there are any.
    pub spell: Option<Spell>,
}

/// Bad spells: a line that is good or bad (two states; Gilbert 1960, Elliott 1963), told anew for each octet of an octet line
/// and each datagram of a datagram line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spell {
    /// Odds, in the good state, that a bad spell begins with this octet or datagram.
    pub begin: f64,
    /// Odds, in a bad spell, that it ends before this octet or datagram. Its mean length is 1 / `end`.
    pub end: f64,
    /// In a bad spell, odds that an octet is replaced by a random one, or a datagram is lost.
    pub spoil: f64,
}

impl Faults {
    /// A line without faults.
    pub const NONE: Self = Self {
        drop: 0.0,
        flip: 0.0,
        double: 0.0,
        insert: 0.0,
        lose: 0.0,
        copy: 0.0,
        late: 0.0,
        late_by: Duration::ZERO,
        spell: None,
    };
}

/// What a line has carried and what went wrong on it, counted by the line itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Counted {
    /// Writes taken.
    pub writes: u64,
    /// Octets taken.
    pub octets: u64,
    /// Octets that came out at the other end, damaged ones, doubles and inserted ones included.
    pub arrived: u64,
    /// Octets dropped one by one.
    pub dropped: u64,
    /// Octets with one bit turned over.
    pub flipped: u64,
    /// Octets that arrived twice.
    pub doubled: u64,
    /// Octets that nobody sent.
    pub inserted: u64,
    /// Writes lost whole.
    pub lost: u64,
    /// Writes copied.
    pub copied: u64,
    /// Copies that came late.
    pub late: u64,
    /// Bad spells begun.
    pub spells: u64,
    /// Octets or datagrams that met a bad spell.
    pub in_spell: u64,
    /// Octets replaced, or datagrams lost, by a bad spell.
    pub spoilt: u64,
    /// Octets or datagrams that met a cut wire.
    pub cut: u64,
    /// Octets or datagrams that met a stuck line.
    pub drowned: u64,
    /// Octets that a stuck line made by itself.
    pub stuck: u64,
    /// Octets that the sender's driver had no room for.
    pub overflowed: u64,
    /// Octets or datagrams that overlapped with another board's on a shared medium.
    pub collided: u64,
}

impl Counted {
    /// Whether nothing at all went wrong.
    #[must_use]
    pub fn is_clean(&self) -> bool {
        let Self { writes, octets, arrived, .. } = *self;
        *self == Self { writes, octets, arrived, ..Self::default() }
    }
}

/// The good or bad state of a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Weather {
    bad: bool,
}

impl Weather {
    /// Moves on by one octet or datagram; `true` if it is spoilt.
    pub(super) fn spoils(&mut self, spell: Option<Spell>, dice: &mut Dice, counted: &mut Counted) -> bool {
        let Some(spell) = spell else { return false };
        if self.bad {
            self.bad = !dice.happens(spell.end);
        } else if dice.happens(spell.begin) {
            self.bad = true;
            counted.spells += 1;
        }
        if !self.bad {
            return false;
        }
        counted.in_spell += 1;
        let spoilt = dice.happens(spell.spoil);
        counted.spoilt += u64::from(spoilt);
        spoilt
    }
}

/// Turns over one bit of an octet.
pub(super) fn flip(octet: &mut u8, dice: &mut Dice) {
    *octet ^= 1 << dice.below(8);
}
