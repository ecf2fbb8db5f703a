//! Explores two links breadth first: any frame may be lost, damaged or late, any timer may fire before any other, either board may restart, and
//! two frames may be under way each way (a third is lost); on a radio in any order and any number of times. Exhaustive within the bounds
//! of each case, and no further.
//!
//! ```sh
//! cargo test -p bellwire --test every_order_of_events -- --nocapture
//! BELLWIRE_EXPLORE=1500000 cargo test --release -p bellwire --test every_order_of_events -- --nocapture
//! ```
//! The second is the large set, cut after 1.5 million states a case: ten minutes of two cores. `explorer/WRONG.md` says what must be found before finding nothing means something.

mod explorer;

use explorer::{
    Found, Limits,
    wrong::{self, Variant},
};

/// Explores a wrong variant until it is found, and prints the shortest way there; what is amiss, if it is not found.
fn search(variant: &Variant) -> Option<String> {
    let Variant { place, words, breaks, run, .. } = variant;
    let Found { states, depth, breach, seconds, .. } =
        run.explore(Limits { most: 300_000, threads: 2, only: Some(*breaks) });
    let place = if place.is_empty() { String::new() } else { format!("{place}: ") };
    let Some((breach, ladder)) = breach else {
        return Some(format!("{place}{words}: not found in {states} states, depth {depth}, {seconds:.1} s"));
    };
    println!("{place}{words}\n  found in step {depth}, {states} states, {seconds:.1} s. {breach}\n{ladder}");
    None
}

#[cfg(not(bellwire_rule_switch))]
mod right {
    use explorer::{
        Run,
        cases::{self, Size},
    };

    use super::*;

    /// Explores, prints the row, and fails with a ladder if a property does not hold.
    fn holds(run: Run) {
        let found = run.explore(Size::wanted().limits());
        println!("{}", run.row(&found));
        if let Some((breach, ladder)) = &found.breach {
            panic!("{}: {breach}\n{ladder}", run.case.name);
        }
    }

    #[test]
    fn every_property_holds_on_a_wire() {
        cases::wire(Size::wanted()).into_iter().for_each(holds);
    }

    #[test]
    fn every_property_holds_on_a_radio() {
        cases::radio(Size::wanted()).into_iter().for_each(holds);
    }

    #[test]
    fn wrong_worlds_are_found_and_so_are_copies_that_outlive_their_lifetime() {
        let missed: Vec<_> = wrong::worlds().iter().filter_map(search).collect();
        assert!(missed.is_empty(), "{missed:#?}");
    }
}

/// With a rule switched off the explorer finds what it was good for.
#[cfg(bellwire_rule_switch)]
#[test]
fn wrong_links_are_found() {
    let mut missed = vec![];
    for variant in wrong::links() {
        bellwire::rules::switch_off(variant.switch);
        missed.extend(search(&variant));
    }
    bellwire::rules::switch_off(0);
    assert!(missed.is_empty(), "{missed:#?}");
}
