//! Explores two links breadth first: any frame may be lost, any timer may fire before any other, either board may restart, and two frames
//! may be under way each way (a third is lost); on an unordered link in any order and any number of times. Exhaustive within the bounds that
//! each test states, and no further.
//!
//! The properties: a message is taken only in the session it was sent in (S1), never twice (S2), errands in order (S3), "delivered" is true
//! (S5), an OPEN ends a session only if the peer really left it (K1), and from every state the links heal once losses stop (L1).

mod explorer;

use bellwire::framing::{Cobs, Datagram, Framing};
use explorer::{Bounds, Found, explore};

fn show<F: Framing + Default>(items: u8, restarts: [u8; 2], ends: u8) {
    let found = explore::<F>(Bounds { items, restarts, ends }, 1_000_000);
    let Found { states, depth, complete, rounds } = found;
    println!(
        "{items} items, restarts {restarts:?}, ends {ends}: {states} states, depth {depth}, heals in {rounds} rounds"
    );
    assert!(complete, "cut at {states} states");
}

#[cfg(not(bellwire_rule_switch))]
mod right {
    use super::*;

    #[test]
    fn a_wire_with_a_restart_of_either_board() {
        show::<Cobs>(0, [1, 1], 0);
    }

    #[test]
    fn a_wire_with_two_items() {
        show::<Cobs>(2, [0, 0], 0);
    }

    #[test]
    fn a_wire_with_an_item_and_a_restart() {
        show::<Cobs>(1, [1, 0], 0);
        show::<Cobs>(1, [0, 1], 0);
    }

    #[test]
    fn a_wire_with_an_item_and_a_session_that_either_side_ends() {
        show::<Cobs>(1, [0, 0], 1);
    }

    #[test]
    fn a_radio_with_a_restart() {
        show::<Datagram>(0, [1, 0], 0);
    }

    #[test]
    fn a_radio_with_an_item() {
        show::<Datagram>(1, [0, 0], 0);
    }

    #[test]
    fn a_radio_with_an_item_and_a_restart() {
        show::<Datagram>(1, [1, 0], 0);
    }
}

/// With a rule switched off the explorer finds what it was good for.
#[cfg(bellwire_rule_switch)]
#[test]
fn wrong_variants_are_found() {
    use std::panic::{AssertUnwindSafe, catch_unwind};
    let wire = |items, restarts| Box::new(move || show::<Cobs>(items, restarts, 0)) as Box<dyn Fn()>;
    let radio = |items, restarts| Box::new(move || show::<Datagram>(items, restarts, 0)) as Box<dyn Fn()>;
    let variants = [
        (14, "the tag is not compared", radio(1, [1, 0])),
        (22, "a session ends and its number stays", Box::new(|| show::<Cobs>(1, [0, 0], 1))),
        (23, "no common session number", wire(1, [0, 0])),
        (26, "any echo will do", wire(0, [1, 1])),
        (27, "messages are taken before the opening", wire(1, [0, 1])),
        (28, "an open side does not answer", wire(0, [0, 0])),
        (101, "a stale copy ends a session", radio(0, [0, 0])),
        (102, "the answer to the challenge is not taken", radio(0, [1, 0])),
        (103, "a stranger's opening ends a session", radio(0, [1, 0])),
        (104, "a challenge is answered by a challenge", radio(0, [1, 0])),
        (32, "messages of another session are taken", radio(1, [1, 0])),
        (35, "every answer asks", wire(0, [0, 0])),
        (38, "repeats are taken", wire(1, [0, 0])),
        (39, "errands are handed out as they come", wire(2, [0, 0])),
        (40, "an errand counts as delivered by its bit", wire(2, [0, 0])),
        (41, "items are carried over", wire(1, [0, 1])),
    ];
    std::panic::set_hook(Box::new(|_| {}));
    let mut missed = vec![];
    for (rule, words, run) in variants {
        bellwire::rules::switch_off(rule);
        let fault = catch_unwind(AssertUnwindSafe(run)).err();
        let text = fault.and_then(|fault| {
            let text = fault.downcast_ref::<String>().cloned();
            text.or_else(|| fault.downcast_ref::<&str>().map(|text| (*text).to_owned()))
        });
        println!(
            "{rule} ({words}): {:?}",
            text.as_ref().map(|text| text.chars().take(60).collect::<String>())
        );
        if text.is_none() {
            missed.push(words);
        }
    }
    bellwire::rules::switch_off(0);
    assert!(missed.is_empty(), "{missed:?}");
}
