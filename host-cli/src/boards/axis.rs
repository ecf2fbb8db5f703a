//! The dome's rotation, simulated: a motor without inertia and two limit switches.

use bellwire::time::{Instant, elapsed};

/// Azimuth counts in 0.01° for each stored unit: positions are kept in 0.01° µs / s, so that no rounding adds up.
const FINE: i64 = 1_000_000;

/// The dome's rotation: its cable allows one turn less 10°, and a limit switch stops the motor at each end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Axis {
    fine: i64,
    rate: i16,
    at: Instant,
}

impl Axis {
    /// The limit switches, 0.01°.
    pub const LIMITS: [u16; 2] = [500, 35_500];

    /// An axis at rest at an azimuth in 0.01°.
    #[must_use]
    pub fn new(azimuth: u16, now: Instant) -> Self {
        Self { fine: i64::from(azimuth) * FINE, rate: 0, at: now }
    }

    /// Lets the time pass up to `now`, then turns at `rate` (0.01 °/s) unless a limit switch forbids it. `true` if the axis has just run into
    /// a limit.
    pub fn drive(&mut self, rate: i16, now: Instant) -> bool {
        let [low, high] = Self::LIMITS.map(|limit| i64::from(limit) * FINE);
        let was = self.rate;
        self.fine += i64::from(self.rate) * i64::from(elapsed(now, self.at).as_ticks());
        self.at = now;
        let at_limit = (rate < 0 && self.fine <= low) || (rate > 0 && self.fine >= high);
        self.fine = self.fine.clamp(low, high);
        self.rate = if at_limit { 0 } else { rate };
        at_limit && was != 0
    }

    /// Where it points, 0.01°.
    #[must_use]
    pub fn azimuth(&self) -> u16 {
        u16::try_from(self.fine / FINE).unwrap_or(0)
    }

    /// How fast it turns, 0.01 °/s.
    #[must_use]
    pub const fn rate(&self) -> i16 {
        self.rate
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(millis: u32) -> Instant {
        Instant::from_ticks(millis * 1_000)
    }

    #[test]
    fn it_turns_at_its_rate_however_often_it_is_looked_at() {
        for steps in [1, 7, 1_000] {
            let mut axis = Axis::new(18_000, at(0));
            axis.drive(150, at(0));
            for step in 1..=steps {
                axis.drive(150, at(10_000 * step / steps));
            }
            assert_eq!((axis.azimuth(), axis.rate()), (19_500, 150));
        }
    }

    #[test]
    fn a_limit_switch_stops_it_once_and_lets_it_back() {
        let mut axis = Axis::new(35_400, at(0));
        axis.drive(200, at(0));
        assert!(axis.drive(200, at(2_000)));
        assert_eq!((axis.azimuth(), axis.rate()), (35_500, 0));
        assert!(!axis.drive(200, at(3_000)), "told once");
        assert!(!axis.drive(-200, at(3_000)));
        axis.drive(-200, at(4_000));
        assert_eq!(axis.azimuth(), 35_300);
    }
}
