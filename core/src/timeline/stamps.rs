//! The four stamps of one exchange, and what they say by themselves.

use super::{Clocks, Known, signed};
use crate::time::{Instant, elapsed};

/// When the four events of one exchange were, each by the clock of the board where it happened (T1 to T4 of RFC 5905 section 8).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Stamps {
    /// The request left here (T1, own clock).
    pub sent: Instant,
    /// It was heard there (T2, far clock).
    pub heard: Instant,
    /// The answer left there (T3, far clock).
    pub answered: Instant,
    /// It was heard here (T4, own clock).
    pub arrived: Instant,
}

impl Stamps {
    /// The far clock less the own one: ((T2 - T1) + (T3 - T4)) / 2 (RFC 5905 section 8), µs, wrapping, rounded down.
    #[must_use]
    pub fn offset(&self) -> u32 {
        let back = self.answered.as_ticks().wrapping_sub(self.arrived.as_ticks());
        back.wrapping_add((self.delay() >> 1).cast_unsigned())
    }

    /// The time on the way, there and back: (T4 - T1) - (T3 - T2) (RFC 5905 section 8), µs. A fast far clock can make it negative.
    #[must_use]
    pub fn delay(&self) -> i32 {
        let here = self.arrived.as_ticks().wrapping_sub(self.sent.as_ticks());
        let there = self.answered.as_ticks().wrapping_sub(self.heard.as_ticks());
        here.wrapping_sub(there).cast_signed()
    }

    /// By how much the offset may be wrong at T4, µs; `None` if no two clocks of this kind can give such stamps.
    ///
    /// With one-way times d1 and d2, both at least zero, the offset of section 8 is off by (d1 - d2) / 2, which half of d1 + d2 bounds. A drift of r
    /// adds at most r (T4 - T1) to d1 + d2, and as much again until T4; four stamps late by up to p move the offset by p and the delay by 2 p.
    pub(super) fn error(&self, clocks: &Clocks) -> Option<u32> {
        let drift = i64::from(clocks.drift_in(elapsed(self.arrived, self.sent)));
        let late = i64::from(clocks.precision).saturating_mul(2);
        let way = i64::from(self.delay()).saturating_add(drift).saturating_add(late);
        if way < 0 {
            return None;
        }
        let half = way.saturating_add(1) / 2;
        let error = half.saturating_add(drift).saturating_add(i64::from(clocks.precision)).saturating_add(1);
        u32::try_from(error).ok()
    }

    /// The offsets that are possible at T4; the widest interval if the stamps are impossible.
    pub(super) fn interval(&self, clocks: &Clocks) -> Known {
        let error = self.error(clocks).unwrap_or(u32::MAX);
        Known { at: self.arrived, low: self.offset().wrapping_sub(error), width: error.saturating_mul(2) }
    }

    /// How long the request was away, by the own clock, µs; below zero if the stamps are out of order.
    pub(super) fn away(&self) -> i64 {
        signed(self.arrived.as_ticks().wrapping_sub(self.sent.as_ticks()))
    }
}
