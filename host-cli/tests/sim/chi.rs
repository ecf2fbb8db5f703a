//! Chi-square tests. Bounds are quantiles at one in a million, so that a sound line fails one run in a million.

/// Asserts that `hits` in `trials` are compatible with odds of `odds` (one degree of freedom).
#[allow(clippy::cast_precision_loss)]
pub(crate) fn assert_odds(what: &str, hits: u64, trials: u64, odds: f64) {
    let (hits, trials) = (hits as f64, trials as f64);
    let expected = trials * odds;
    let statistic = (hits - expected).powi(2) / (expected * (1.0 - odds));
    assert!(
        statistic < 23.93,
        "{what}: {hits} of {trials}, expected {expected:.0}: chi-square {statistic:.1}"
    );
}

/// Asserts that eight counts are compatible with equal odds (seven degrees of freedom).
#[allow(clippy::cast_precision_loss)]
pub(crate) fn assert_even(what: &str, counts: [u64; 8]) {
    let expected = counts.iter().sum::<u64>() as f64 / 8.0;
    let statistic: f64 = counts.iter().map(|&count| (count as f64 - expected).powi(2) / expected).sum();
    assert!(statistic < 40.52, "{what}: {counts:?}: chi-square {statistic:.1}");
}
