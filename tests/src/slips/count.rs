//! Counts and the bounds of the rate behind them.

/// Trials of one kind of damage.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Count {
    /// Wrong frames taken.
    pub accepted: u64,
    /// Damaged images tried.
    pub trials: u64,
}

impl Count {
    /// Bounds of the rate: two-sided, 95 %, Poisson (Garwood 1936), which for rare events is the limit of the exact binomial bounds.
    #[must_use]
    #[allow(clippy::cast_precision_loss)]
    pub fn bounds(self) -> (f64, f64) {
        let (count, trials) = (self.accepted as f64, self.trials as f64);
        let high = solve(self.accepted, 0.025, count, count + 10.0 * (count + 1.0).sqrt() + 20.0);
        let low = if self.accepted == 0 { 0.0 } else { solve(self.accepted - 1, 0.975, 0.0, count) };
        (low / trials, high / trials)
    }

    pub(super) const fn add(&mut self, more: Self) {
        self.accepted += more.accepted;
        self.trials += more.trials;
    }
}

/// Odds of at most `count` events where `mean` are expected.
#[allow(clippy::cast_precision_loss)]
fn at_most(count: u64, mean: f64) -> f64 {
    let mut log = -mean;
    let mut sum = log.exp();
    for event in 1..=count {
        log += (mean / event as f64).ln();
        sum += log.exp();
    }
    sum
}

/// The mean between `low` and `high` at which [`at_most`] is `odds`.
fn solve(count: u64, odds: f64, mut low: f64, mut high: f64) -> f64 {
    for _ in 0..100 {
        let middle = f64::midpoint(low, high);
        if at_most(count, middle) > odds { low = middle } else { high = middle }
    }
    low
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Garwood's limits for 0 and 10 events as tables print them: 3.689, and 4.795 to 18.390.
    #[test]
    fn bounds_are_those_of_the_tables() {
        let (low, high) = Count { accepted: 0, trials: 1 }.bounds();
        assert!(low == 0.0 && (high - 3.689).abs() < 0.001, "{low} {high}");
        let (low, high) = Count { accepted: 10, trials: 1 }.bounds();
        assert!((low - 4.795).abs() < 0.001 && (high - 18.390).abs() < 0.001, "{low} {high}");
        // Large counts come near to the normal law: 10 000 +- 1.96 x 100.
        let (low, high) = Count { accepted: 10_000, trials: 1 }.bounds();
        assert!((low - 9_805.0).abs() < 2.0 && (high - 10_198.0).abs() < 2.0, "{low} {high}");
    }
}
