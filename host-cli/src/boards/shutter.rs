//! The dome's shutter, simulated: ten seconds from end to end.

use crate::observatory::ShutterMove;
use bellwire::time::{Instant, elapsed};

/// Time for one per cent, µs.
const PER_CENT: i64 = 100_000;

/// The shutter.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shutter {
    /// How far it is open, in µs of its way.
    way: i64,
    /// Which way it moves: -1, 0 or 1.
    moving: i64,
    at: Instant,
}

impl Shutter {
    /// A closed shutter.
    #[must_use]
    pub const fn closed(now: Instant) -> Self {
        Self { way: 0, moving: 0, at: now }
    }

    /// Starts or stops a move.
    pub fn order(&mut self, order: ShutterMove, now: Instant) {
        self.advance(now);
        self.moving = match order {
            ShutterMove::Open => 1,
            ShutterMove::Close => -1,
            ShutterMove::Stop => 0,
        };
    }

    /// Lets the time pass up to `now`. `true` if it has just come to an end of its way.
    pub fn advance(&mut self, now: Instant) -> bool {
        self.way += self.moving * i64::from(elapsed(now, self.at).as_ticks());
        self.at = now;
        let way = self.way.clamp(0, 100 * PER_CENT);
        let ended =
            self.moving != 0 && (way == 0 && self.moving < 0 || way == 100 * PER_CENT && self.moving > 0);
        self.way = way;
        if ended {
            self.moving = 0;
        }
        ended
    }

    /// How far it is open, %.
    #[must_use]
    pub fn open(&self) -> u8 {
        u8::try_from(self.way / PER_CENT).unwrap_or(0)
    }

    /// Whether it moves.
    #[must_use]
    pub const fn is_moving(&self) -> bool {
        self.moving != 0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_takes_ten_seconds_and_stops_at_its_ends_and_when_told() {
        let at = |millis: u32| Instant::from_ticks(millis * 1_000);
        let mut shutter = Shutter::closed(at(0));
        shutter.order(ShutterMove::Open, at(0));
        assert!(!shutter.advance(at(4_200)));
        assert_eq!((shutter.open(), shutter.is_moving()), (42, true));
        shutter.order(ShutterMove::Stop, at(5_000));
        shutter.order(ShutterMove::Open, at(9_000));
        assert!(shutter.advance(at(14_000)));
        assert_eq!((shutter.open(), shutter.is_moving()), (100, false));
        shutter.order(ShutterMove::Close, at(20_000));
        assert!(shutter.advance(at(40_000)));
        assert_eq!((shutter.open(), shutter.is_moving()), (0, false));
    }
}
