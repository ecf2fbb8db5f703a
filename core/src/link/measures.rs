//! What a link measures: the time, its counters, the round trip, the dice.

use crate::{
    retry::Dice,
    rtt::{Bounds, Estimator, RoundTrip},
    stats::{Counter, Statistics},
    time::{Duration, Instant, elapsed},
};

/// A step backward of at most this is a late stamp of octets that arrived earlier; a longer one is a clock that was set.
const LATE_STAMP: Duration = Duration::from_ticks(1_000_000);

#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub(super) struct Measures {
    pub(super) last: Instant,
    estimator: Estimator,
    /// The time of one largest frame of the session on the line.
    largest_frame: Duration,
    pub(super) dice: Dice,
    pub(super) statistics: Statistics,
}

impl Measures {
    #[inline(always)]
    pub(super) const fn new(now: Instant, largest_frame: Duration, dice: Dice) -> Self {
        Self { last: now, statistics: Statistics::new(), estimator: Estimator::new(), largest_frame, dice }
    }

    /// It is `now`, `span` after the last call.
    #[inline(always)]
    pub(super) fn pass(&mut self, now: Instant, span: Duration) {
        self.last = now;
        self.statistics.elapse(span);
    }

    /// `now` lies before the last call.
    pub(super) fn step_back(&mut self, now: Instant) {
        if elapsed(self.last, now) > LATE_STAMP {
            self.last = now;
        }
    }

    /// Takes a measured round trip into the estimate.
    #[inline(always)]
    pub(super) fn sample(&mut self, round_trip: Duration, ceiling: Duration) {
        self.estimator.sample(round_trip);
        self.note_round_trip(ceiling);
    }

    /// A new session on a line that takes `largest_frame` for one largest frame: a new estimate.
    pub(super) fn reset_estimate(&mut self, largest_frame: Duration, ceiling: Duration) {
        self.estimator = Estimator::new();
        self.largest_frame = largest_frame;
        self.note_round_trip(ceiling);
    }

    fn note_round_trip(&mut self, ceiling: Duration) {
        let bounds = Bounds::of_line(self.largest_frame, ceiling);
        self.statistics.set(Counter::RoundTrip, self.estimator.smoothed().as_ticks());
        self.statistics.set(Counter::TimeOut, self.estimator.time_out(&bounds).as_ticks());
    }

    pub(super) fn round_trip(&self, ceiling: Duration) -> RoundTrip {
        self.estimator.round_trip(&Bounds::of_line(self.largest_frame, ceiling))
    }

    /// The time-out of a confirmed item in this session (W-49). It is a counter, too, so that it need not be computed for every frame.
    pub(super) fn time_out(&self) -> Duration {
        Duration::from_ticks(self.statistics.get(Counter::TimeOut))
    }
}
