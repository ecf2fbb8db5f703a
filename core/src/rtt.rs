//! Round-trip estimate and retransmission time-out (RFC 6298, sections 2 and 3; W-49).
//!
//! The floor is not RFC 6298's second, which is wrong for a UART, but the larger of 5 ms and the time of two largest frames. Karn's rule
//! (a frame sent more than once gives no sample) is the caller's to keep.

use crate::{rules::holds, time::Duration};

/// Clock granularity G of RFC 6298: 1 ms.
pub const GRANULARITY: Duration = Duration::from_ticks(1_000);

/// Smallest floor of the time-out: 5 ms.
pub const MIN_FLOOR: Duration = Duration::from_ticks(5_000);

/// Smallest time-out before the first sample: 50 ms.
pub const MIN_INITIAL: Duration = Duration::from_ticks(50_000);

/// The longest sample that counts: 60 s; longer ones are taken as this.
pub const LONGEST_SAMPLE: Duration = Duration::from_ticks(60_000_000);

/// What is known about the round trip.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct RoundTrip {
    /// Smoothed round trip; `None` before the first sample.
    pub smoothed: Option<Duration>,
    /// Retransmission time-out before any back-off.
    pub time_out: Duration,
}

/// Bounds of the time-out (W-49).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Bounds {
    /// Time-out before the first sample.
    pub initial: Duration,
    /// Never shorter than this.
    pub floor: Duration,
    /// Never longer than this.
    pub ceiling: Duration,
}

impl Bounds {
    /// The bounds of W-49 on a line that takes `largest_frame` for one largest frame.
    #[must_use]
    pub fn of_line(largest_frame: Duration, ceiling: Duration) -> Self {
        let frames = |count: u32| Duration::from_ticks(largest_frame.as_ticks().saturating_mul(count));
        Self {
            initial: MIN_INITIAL.max(frames(8)).min(ceiling),
            floor: MIN_FLOOR.max(frames(2)).min(ceiling),
            ceiling,
        }
    }
}

/// The estimator, in integers: 8 SRTT and 4 RTTVAR in µs, as RFC 6298's gains of 1/8 and 1/4 suggest. Its bounds are the caller's to keep.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Estimator {
    srtt_8: u32,
    /// [`NO_SAMPLE`] before the first one.
    rttvar_4: u32,
}

/// A deviation that no samples have: they are at most [`LONGEST_SAMPLE`].
const NO_SAMPLE: u32 = u32::MAX;

impl Default for Estimator {
    fn default() -> Self {
        Self::new()
    }
}

impl Estimator {
    /// An estimator without a sample.
    #[must_use]
    pub const fn new() -> Self {
        Self { srtt_8: 0, rttvar_4: NO_SAMPLE }
    }

    const fn is_sampled(&self) -> bool {
        self.rttvar_4 != NO_SAMPLE
    }

    /// Takes a measured round trip (RFC 6298, rules 2.2 and 2.3).
    #[inline]
    pub fn sample(&mut self, round_trip: Duration) {
        let sample = round_trip.min(LONGEST_SAMPLE).as_ticks();
        if self.is_sampled() {
            let error = sample.abs_diff(self.srtt_8 >> 3);
            self.rttvar_4 = self.rttvar_4.saturating_sub(self.rttvar_4 >> 2).saturating_add(error);
            self.srtt_8 = self.srtt_8.saturating_sub(self.srtt_8 >> 3).saturating_add(sample);
        } else {
            self.srtt_8 = sample.saturating_mul(8);
            self.rttvar_4 = sample.saturating_mul(2);
        }
    }

    /// The time-out: SRTT + max(G, 4 RTTVAR), within the bounds.
    #[must_use]
    pub fn time_out(&self, bounds: &Bounds) -> Duration {
        let Bounds { initial, floor, ceiling } = *bounds;
        if !holds(49) {
            return Duration::from_ticks(1_000_000);
        }
        if !self.is_sampled() {
            return initial;
        }
        let spread = self.rttvar_4.max(GRANULARITY.as_ticks());
        Duration::from_ticks(self.smoothed().as_ticks().saturating_add(spread)).max(floor).min(ceiling)
    }

    /// The smoothed round trip; zero before the first sample.
    pub(crate) const fn smoothed(&self) -> Duration {
        Duration::from_ticks(self.srtt_8 >> 3)
    }

    /// What is known.
    #[must_use]
    pub fn round_trip(&self, bounds: &Bounds) -> RoundTrip {
        RoundTrip { smoothed: self.is_sampled().then_some(self.smoothed()), time_out: self.time_out(bounds) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const OPEN_BOUNDS: Bounds = Bounds {
        initial: Duration::from_ticks(1_000_000),
        floor: Duration::from_ticks(0),
        ceiling: Duration::from_ticks(60_000_000),
    };

    fn trace(samples_ms: impl IntoIterator<Item = u32>, bounds: Bounds) -> std::vec::Vec<u32> {
        let mut estimator = Estimator::new();
        let mut after = |ms: u32| {
            estimator.sample(Duration::from_ticks(ms * 1_000));
            estimator.time_out(&bounds).as_ticks()
        };
        samples_ms.into_iter().map(&mut after).collect()
    }

    /// RFC 6298 prints no trace; these follow from its section 2 in exact arithmetic, rounded down to µs by the scaled integer form.
    #[test]
    fn time_outs_follow_rfc_6298_section_2() {
        assert_eq!(
            trace([100, 120, 80, 300, 100, 100, 100, 100], OPEN_BOUNDS),
            [300_000, 272_500, 249_687, 437_539, 380_971, 335_068, 297_599, 266_835]
        );
        let mut estimator = Estimator::new();
        estimator.sample(Duration::from_ticks(100_000));
        assert_eq!(estimator.round_trip(&OPEN_BOUNDS).smoothed, Some(Duration::from_ticks(100_000)));
        let constant = trace([100; 8], OPEN_BOUNDS);
        assert_eq!(constant.get(..4), Some(&[300_000, 250_000, 212_500, 184_375][..]));
        for (time_out, exact) in constant.iter().skip(4).zip([163_281, 147_461, 135_596, 126_697_u32]) {
            assert!(time_out.abs_diff(exact) <= 4, "{time_out} is not {exact}");
        }
    }

    #[test]
    fn the_integer_form_stays_within_a_few_microseconds_of_exact_arithmetic() {
        let mut estimator = Estimator::new();
        let (mut srtt, mut rttvar) = (0.0_f64, 0.0_f64);
        let mut sample = 12_345_u32;
        for round in 0..2_000 {
            sample = sample.wrapping_mul(1_103_515_245).wrapping_add(12_345) % 200_000;
            let exact = f64::from(sample);
            if round == 0 {
                (srtt, rttvar) = (exact, exact / 2.0);
            } else {
                rttvar = 0.75 * rttvar + 0.25 * (srtt - exact).abs();
                srtt = 0.875 * srtt + 0.125 * exact;
            }
            estimator.sample(Duration::from_ticks(sample));
            let wanted = srtt + (4.0 * rttvar).max(1_000.0);
            let error = (f64::from(estimator.time_out(&OPEN_BOUNDS).as_ticks()) - wanted).abs();
            assert!(error < 16.0, "round {round}: off by {error} µs");
        }
    }

    #[test]
    fn the_time_out_keeps_to_the_bounds_of_w49() {
        let ms = Duration::from_ticks;
        let fast = Bounds::of_line(ms(5_500), ms(1_000_000));
        assert_eq!((fast.initial, fast.floor), (ms(50_000), ms(11_000)));
        let slow = Bounds::of_line(ms(65_600), ms(1_000_000));
        assert_eq!((slow.initial, slow.floor), (ms(524_800), ms(131_200)));
        let mut estimator = Estimator::new();
        assert_eq!(estimator.time_out(&fast), fast.initial);
        estimator.sample(ms(0));
        assert_eq!(estimator.time_out(&fast), fast.floor);
        estimator.sample(ms(u32::MAX));
        assert_eq!(estimator.time_out(&fast), fast.ceiling);
        assert_eq!(trace([0], OPEN_BOUNDS), [1_000], "never shorter than the granularity beyond SRTT");
    }
}
