//! Ended by either side at every part: the other learns why, and the next transfer gets through.

use super::{
    run::{DESK, Joined, LINES, MAST, Make, Run},
    side::Ends,
};
use bellwire::{
    framing::Cobs,
    transfer::{Outcome, Reason, State},
};
use bellwire_cli::sim::{Action, Condition};
use core::time::Duration;

/// Parts of the content here: the last completes it.
const PARTS: u32 = 10;
const WINDOW: u32 = 4;

fn plain(joined: Joined) -> Make {
    Make::new(joined, 600, u8::try_from(WINDOW).expect("a window"))
}

/// A new transfer of the same content, whatever came of the one before.
fn next_one_gets_through(mut run: Run<Cobs>, make: &Make, what: &str) {
    let before = run.mast().wholes;
    run.desk().anew();
    while run.outcome() != Some(Outcome::Delivered) {
        // A receiver that still waits for the one that was ended gives way when its patience is over.
        match run.outcome() {
            Some(Outcome::Refused(Reason::Busy)) => {
                run.settle();
                run.desk().sender.again();
            }
            Some(other) => panic!("{what}: {other:?}"),
            None => run.step(),
        }
    }
    assert_eq!(run.mast().wholes, before + 1, "{what}");
    assert!(run.mast().store[..] == make.content[..], "{what}");
}

#[test]
fn either_side_ends_it_at_any_part_and_the_next_transfer_is_whole() {
    for joined in [Joined::Wire, Joined::ToLeaf, Joined::ToHub] {
        let plain = plain(joined);
        for after in 1..=PARTS {
            for reason in [Reason::Stopped, Reason::Storage, Reason::NotWanted] {
                for by_desk in [true, false] {
                    let what = format!("{joined:?}, part {after}, {reason:?}, by the desk: {by_desk}");
                    let ends = Some(Ends { after, reason });
                    let (desk_ends, mast_ends) = if by_desk { (ends, None) } else { (None, ends) };
                    let make = Make { desk_ends, mast_ends, ..plain.clone() };
                    let mut run = Run::new(&make, &Cobs);
                    while run.outcome().is_none() {
                        run.step();
                    }
                    run.settle();
                    let outcome = if by_desk { Outcome::Stopped(reason) } else { Outcome::Refused(reason) };
                    assert_eq!(run.outcome(), Some(outcome), "{what}");
                    // A stop behind the last part comes to a receiver that holds the whole: that stays.
                    let whole = by_desk && after == PARTS;
                    let state = if whole { State::Done } else { State::Over(reason) };
                    assert_eq!(run.mast().receiver.state(), state, "{what}");
                    assert_eq!(run.mast().wholes, u32::from(whole), "{what}");
                    next_one_gets_through(run, &plain, &what);
                }
            }
        }
    }
}

/// The word that ends it is lost. A refusal is told again to a sender that goes on; a receiver that misses a stop is told again if it answers, and
/// waits no longer than its patience if not.
#[test]
fn the_word_that_ends_it_is_lost_and_still_nobody_waits_for_ever() {
    for after in 1..=PARTS {
        for by_desk in [true, false] {
            let what = format!("part {after}, by the desk: {by_desk}");
            let reason = Reason::Storage;
            let ends = Some(Ends { after, reason });
            let plain = plain(Joined::Wire);
            let (desk_ends, mast_ends) = if by_desk { (ends, None) } else { (None, ends) };
            let make = Make { desk_ends, mast_ends, ..plain.clone() };
            let mut run = Run::new(&make, &Cobs);
            let (node, line) = if by_desk { (DESK, LINES[0]) } else { (MAST, LINES[1]) };
            // The line breaks once the word has been handed to the driver, and is mended when it has left.
            let words = |run: &Run<Cobs>| run.network.node(node).sent.others;
            while words(&run) == 0 {
                run.step();
            }
            let now = run.network.now();
            run.network.script().add(now, Action::Wire(line, Condition::Cut));
            run.network
                .script()
                .add(now.plus(Duration::from_micros(1_200)), Action::Wire(line, Condition::Whole));
            let soon = now.plus(Duration::from_micros(1_200));
            run.network.run(soon, &mut |_, _| {}).expect("time goes on");
            assert!(run.network.counted(line).cut > 0, "{what}: it was on its way");
            while run.outcome().is_none() {
                run.step();
            }
            run.settle();
            let outcome = if by_desk { Outcome::Stopped(reason) } else { Outcome::Refused(reason) };
            assert_eq!(run.outcome(), Some(outcome), "{what}");
            let asked = after.is_multiple_of(WINDOW);
            let state = match by_desk {
                true if after == PARTS => State::Done,
                true if !asked => State::Taking,
                _ => State::Over(reason),
            };
            assert_eq!(run.mast().receiver.state(), state, "{what}");
            next_one_gets_through(run, &plain, &what);
        }
    }
}
