//! Stars in virtual time with 20 % loss and restarts of any board; the books of every leaf balance both ways. The long run is `--bin star`.

use bellwire_tests::star::{BOX, Make, Medium, POOL, QUEUE, Sum, run, setup};
use core::time::Duration;
use std::sync::Arc;

fn star(name: &str, medium: Medium, [leaves, sleepers]: [u8; 2], reports: u64) -> Sum {
    let seed = bellwire_tests::seed(name);
    let make = Make {
        medium,
        leaves,
        sleepers,
        naps: Arc::default(),
        reports,
        pause: Duration::from_millis(100),
        letters: Duration::from_millis(1),
        restarts: [2, 3],
        setup: setup(medium),
        seed: seed.value(),
    };
    let sum = run(&make).unwrap_or_else(|broken| panic!("{broken}"));
    println!("{sum:#?}");
    assert_eq!(sum.reports.accepted, reports * u64::from(leaves));
    for balance in [sum.reports, sum.hub] {
        // Who sleeps is seldom restarted with a report under way.
        let lost = if sleepers == leaves { 1 } else { balance.lost };
        let seen = [balance.delivered, balance.unknown, lost];
        assert!(seen.iter().all(|count| *count > 0), "every outcome occurs: {balance:?}");
    }
    // Bounded, and the bounds are met.
    assert!(sum.most[0] <= POOL && sum.most[1] == usize::from(QUEUE), "{:?}", sum.most);
    assert!(sum.letters.most == BOX && sum.letters.full > 0 && sum.refused > 0);
    let lost = sum.lost as f64 / sum.frames as f64;
    assert!((lost - 0.2).abs() < 0.01, "{lost}");
    sum
}

#[test]
fn the_books_of_ten_leaves_balance_on_a_radio_that_loses_doubles_and_overtakes() {
    let name = "the_books_of_ten_leaves_balance_on_a_radio_that_loses_doubles_and_overtakes";
    let sum = star(name, Medium::Radio, [10, 0], 1_000);
    assert!(sum.strayed > 1_000, "{sum:?}");
}

#[test]
fn the_books_of_ten_leaves_balance_on_wires_that_lose_frames() {
    let name = "the_books_of_ten_leaves_balance_on_wires_that_lose_frames";
    assert_eq!(star(name, Medium::Wire, [10, 0], 1_000).strayed, 0);
}

#[test]
fn a_pool_that_forty_leaves_fight_for_is_full_and_never_more() {
    let name = "a_pool_that_forty_leaves_fight_for_is_full_and_never_more";
    assert_eq!(star(name, Medium::Radio, [40, 0], 100).most[0], POOL);
}

/// Of what goes to them only while they listen much waits, and much expires; all of it is told.
#[test]
fn the_books_balance_where_half_of_the_leaves_sleep_between_their_reports() {
    let name = "the_books_balance_where_half_of_the_leaves_sleep_between_their_reports";
    let sum = star(name, Medium::Radio, [10, 5], 1_000);
    // Each of the five goes on from its 16 octets more often than it could with every second report.
    assert!(sum.naps > 5 * 500, "{sum:?}");
    assert!(sum.letters.expired > 0 && sum.letters.replaced > 0, "{:?}", sum.letters);
}

#[test]
fn the_books_balance_where_all_sleep_on_wires() {
    let name = "the_books_balance_where_all_sleep_on_wires";
    assert!(star(name, Medium::Wire, [10, 10], 1_000).naps > 10 * 500);
}
