//! What a link measures: the time, its counters, the round trip, the dice.

use crate::{
    retry::Dice,
    rtt::Estimator,
    stats::{Counter, Statistics},
    time::{Duration, Instant, elapsed},
};

/// A step backward of at most this is a late stamp of octets that arrived earlier; a longer one is a clock that was set.
const LATE_STAMP: Duration = Duration::from_ticks(1_000_000);

#[derive(Debug, Clone, Copy)]
pub(super) struct Measures {
    pub(super) last: Instant,
    pub(super) statistics: Statistics,
    pub(super) estimator: Estimator,
    pub(super) dice: Dice,
    /// Microseconds of the uptime beyond whole milliseconds.
    rest: u32,
}

impl Measures {
    pub(super) const fn new(now: Instant, estimator: Estimator, seed: u32) -> Self {
        Self { last: now, statistics: Statistics::new(), estimator, dice: Dice::new(seed), rest: 0 }
    }

    /// The time since the last call; none if `now` lies before it.
    pub(super) fn step(&mut self, now: Instant) -> Duration {
        let span = elapsed(now, self.last);
        if span.as_ticks() > 0 || elapsed(self.last, now) > LATE_STAMP {
            self.last = now;
        }
        let rest = self.rest.saturating_add(span.as_ticks());
        if rest >= 1_000 {
            let ms = usize::try_from(rest / 1_000).unwrap_or(usize::MAX);
            self.statistics.add(Counter::Uptime, ms);
        }
        self.rest = rest % 1_000;
        span
    }

    /// Takes a measured round trip into the estimate.
    pub(super) fn sample(&mut self, round_trip: Duration) {
        self.estimator.sample(round_trip);
        self.note_round_trip();
    }

    /// A new session, a new estimate.
    pub(super) fn reset_estimate(&mut self, estimator: Estimator) {
        self.estimator = estimator;
        self.note_round_trip();
    }

    fn note_round_trip(&mut self) {
        let known = self.estimator.round_trip();
        let smoothed = known.smoothed.map_or(0, |smoothed| smoothed.as_ticks());
        self.statistics.set(Counter::RoundTrip, smoothed);
        self.statistics.set(Counter::TimeOut, known.time_out.as_ticks());
    }
}
