//! Exact binomial bounds.

/// The smallest interval of counts outside which each tail has odds of at most `tail`, for `trials` of odds `odds`.
#[allow(clippy::cast_precision_loss)]
pub(crate) fn interval(trials: u64, odds: f64, tail: f64) -> (u64, u64) {
    let n = trials as f64;
    let mut log = n * (-odds).ln_1p();
    let ratio = odds.ln() - (-odds).ln_1p();
    let (mut below, mut low, mut count) = (0.0, 0, 0_u64);
    loop {
        below += log.exp();
        if below <= tail {
            low = count + 1;
        }
        if 1.0 - below <= tail {
            return (low, count);
        }
        let k = count as f64;
        log += ((n - k) / (k + 1.0)).ln() + ratio;
        count += 1;
    }
}

#[test]
fn bounds_are_those_of_a_small_case_counted_by_hand() {
    // Ten throws of a coin: 1, 10, 45, 120, 210, 252 ... of 1024. One in a hundred each side: 0 and 10 heads (11 with one and nine).
    assert_eq!(interval(10, 0.5, 0.01), (1, 9));
    assert_eq!(interval(10, 0.5, 11.0 / 1024.0 + 1e-9), (2, 8));
    assert_eq!(interval(10, 0.5, 0.000_9), (0, 10));
}
