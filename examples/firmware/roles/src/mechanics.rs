//! The dome's motor and shutter where there is none: enough of a machine to see what the outputs do.

use bellwire::time::{Duration, Instant, elapsed};
use bellwire_examples::messages::ShutterMove;

use crate::{Drive, Sensors};

/// The limit switches, 0.01° / 1000: the cable allows one turn less 10°.
const LOW: i32 = 500_000;
const HIGH: i32 = 35_500_000;
/// Way of the shutter from end to end, ms.
const SHUTTER: i32 = 10_000;

/// A motor without inertia, two limit switches, and a shutter that takes ten seconds.
///
/// Time counts in whole milliseconds; what is left over counts the next time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mechanics {
    /// Where the dome points, 0.01° / 1000: what a rate of 0.01 °/s turns in a millisecond.
    fine: i32,
    rate: i16,
    /// How far the shutter is open, ms of its way.
    shutter: i32,
    moving: ShutterMove,
    at: Instant,
}

impl Mechanics {
    /// At rest at 180°, the shutter closed.
    #[must_use]
    pub const fn new(now: Instant) -> Self {
        Self { fine: 18_000_000, rate: 0, shutter: 0, moving: ShutterMove::Stop, at: now }
    }

    /// Lets time pass up to `now`; gives what the sensors show. Whether it rains, and what the line lost, is not known here.
    pub fn sense(&mut self, now: Instant) -> Sensors {
        let span = elapsed(now, self.at).as_ticks() / 1_000;
        self.at = bellwire::time::after(self.at, Duration::from_ticks(span.saturating_mul(1_000)));
        let span = i32::try_from(span).unwrap_or(i32::MAX);
        self.fine = self.fine.saturating_add(span.saturating_mul(i32::from(self.rate))).clamp(LOW, HIGH);
        let way = match self.moving {
            ShutterMove::Open => span,
            ShutterMove::Close => span.saturating_neg(),
            ShutterMove::Stop => 0,
        };
        self.shutter = self.shutter.saturating_add(way).clamp(0, SHUTTER);
        Sensors {
            azimuth: u16::try_from(self.fine / 1_000).unwrap_or(0),
            low_limit: self.fine == LOW,
            high_limit: self.fine == HIGH,
            shutter: u8::try_from(self.shutter / (SHUTTER / 100)).unwrap_or(0),
            rain: false,
            lost: 0,
        }
    }

    /// What the outputs do from now on.
    pub const fn drive(&mut self, drive: Drive) {
        self.rate = drive.rate;
        self.moving = drive.shutter;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use bellwire::setpoint::Stop;

    fn at(millis: u32) -> Instant {
        Instant::from_ticks(millis * 1_000)
    }

    const fn drive(rate: i16, shutter: ShutterMove) -> Drive {
        Drive { rate, stop: Stop::Brake, shutter }
    }

    #[test]
    fn it_turns_at_its_rate_however_often_it_is_looked_at() {
        for steps in [1, 7, 10_000] {
            let mut mechanics = Mechanics::new(at(0));
            mechanics.drive(drive(150, ShutterMove::Open));
            let last = (1..=steps).map(|step| mechanics.sense(at(10_000 * step / steps))).last().unwrap();
            assert_eq!((last.azimuth, last.shutter), (19_500, 100));
        }
    }

    #[test]
    fn the_switches_close_at_the_ends() {
        let mut mechanics = Mechanics::new(at(0));
        mechanics.drive(drive(i16::MAX, ShutterMove::Close));
        let sensors = mechanics.sense(at(60_000));
        assert_eq!((sensors.azimuth, sensors.low_limit, sensors.high_limit), (35_500, false, true));
        mechanics.drive(drive(-100, ShutterMove::Stop));
        assert!(!mechanics.sense(at(60_010)).high_limit);
    }
}
