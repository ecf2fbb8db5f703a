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

/// Asserts that counts fit the expected ones, which have the same sum.
pub(crate) fn assert_fits(what: &str, counts: &[u64], expected: &[f64]) {
    assert!(
        counts.len() == expected.len() && expected.iter().all(|count| *count >= 5.0),
        "{what}: {expected:?}"
    );
    let statistic: f64 = counts
        .iter()
        .zip(expected)
        .map(|(count, expected)| (*count as f64 - expected).powi(2) / expected)
        .sum();
    let free = (counts.len() - 1) as f64;
    // The quantile at one in a million (z = 4.753) after Wilson and Hilferty, PNAS 17(12), 1931: a little high for few degrees.
    let bound = free * (1.0 - 2.0 / (9.0 * free) + 4.753 * (2.0 / (9.0 * free)).sqrt()).powi(3);
    assert!(
        statistic < bound,
        "{what}: {counts:?}, expected {expected:.1?}: chi-square {statistic:.1}, bound {bound:.1}"
    );
}

/// Asserts that lengths 1, 2, 3 … come as those of a run that ends after each step with odds `end`.
pub(crate) fn assert_geometric(what: &str, lengths: &[u64], end: f64) {
    let all = lengths.len() as f64;
    let (mut counts, mut expected) = (Vec::new(), Vec::new());
    let mut left = all;
    for length in 1.. {
        let here = left * end;
        if left - here < 10.0 || here < 10.0 {
            break;
        }
        counts.push(lengths.iter().filter(|one| **one == length).count() as u64);
        expected.push(here);
        left -= here;
    }
    counts.push(lengths.iter().filter(|one| **one > counts.len() as u64).count() as u64);
    expected.push(left);
    assert!(counts.len() > 3, "{what}: enough of them");
    assert_fits(what, &counts, &expected);
}
