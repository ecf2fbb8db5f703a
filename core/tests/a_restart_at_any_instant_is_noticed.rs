//! P4 of the design: a restart of either side at any instant, while messages of all classes travel both ways. The session ends with its reason,
//! the next one opens, and nothing of an earlier session is delivered in a later one.

#![allow(clippy::cast_possible_truncation)]

mod common;

use bellwire::{
    frame::Class,
    link::{EndReason, Outcome, State},
};
use common::{Pair, Told, Who};

/// Runs a small conversation, restarts `who` (twice, if `again`) after `steps` things have happened, and lets it settle.
fn restarted<const W: usize, const Q: usize>(
    who: Who,
    steps: usize,
    again: Option<usize>,
) -> Pair<bellwire::framing::Cobs, W, Q> {
    let mut pair = Pair::<_, W, Q>::at(0);
    let mut sent = 0_u8;
    for step in 0..steps {
        if step >= 6 && step % 2 == 0 {
            for side in Who::BOTH {
                let class = Class::ALL[step / 2 % 4];
                let _ = pair.send(side, class, &[class as u8 + 20, sent, 0]);
            }
            sent += 1;
        }
        pair.step_once();
    }
    pair.restart(who, 50_000);
    for _ in 0..again.unwrap_or(0) {
        pair.step_once();
    }
    if again.is_some() {
        pair.restart(who, 60_000);
    }
    // New messages are marked.
    for side in Who::BOTH {
        for _ in 0..40 {
            if pair.links[side as usize].state() == State::Up {
                let _ = pair.send(side, Class::Errand, &[21, 200, 1]);
                break;
            }
            pair.step_once();
        }
    }
    pair.run(3_000_000);
    pair
}

fn check<const W: usize, const Q: usize>(who: Who, steps: usize, again: Option<usize>) {
    let pair = restarted::<W, Q>(who, steps, again);
    let name = format!("{who:?} after {steps} steps, again after {again:?}");
    assert!(pair.is_up(), "{name}");
    for side in Who::BOTH {
        // Messages between two openings are of one session: no old mark after a new one, errands once and in order.
        let mut errands = vec![];
        let mut life = 0;
        for told in pair.told(side) {
            if let Told::Message { class, payload, .. } = told {
                assert!(payload[2] >= life, "{name}: an old message in a new session");
                life = payload[2];
                if class == Class::Errand {
                    errands.push((life, payload[1]));
                }
            }
        }
        assert!(errands.windows(2).all(|pair| pair[0] < pair[1]), "{name}: {errands:?}");
    }
    // The one that stayed has an outcome for each of its items, and they are true.
    let stayed = who.other();
    let delivered =
        pair.outcomes(stayed).iter().filter(|(_, outcome)| *outcome == Outcome::Delivered).count();
    let arrived = pair
        .told(who)
        .iter()
        .filter(|told| matches!(told, Told::Message { class, .. } if class.is_confirmed()))
        .count();
    assert!(delivered <= arrived, "{name}: {delivered} delivered of {arrived} arrived");
}

#[test]
fn once_with_a_window_of_one() {
    for who in Who::BOTH {
        for steps in 0..70 {
            check::<1, 4>(who, steps, None);
        }
    }
}

#[test]
fn once_with_a_window_of_four() {
    for who in Who::BOTH {
        for steps in 0..70 {
            check::<4, 8>(who, steps, None);
        }
    }
}

#[test]
fn twice_close_together() {
    for who in Who::BOTH {
        for steps in 0..50 {
            for again in 0..8 {
                check::<2, 4>(who, steps, Some(again));
            }
        }
    }
}

#[test]
fn a_restart_is_noticed_at_the_first_opening_that_gets_through() {
    let mut pair = Pair::<_, 1, 4>::opened();
    pair.send(Who::Desk, Class::Errand, &[9]).unwrap();
    let before = pair.now;
    pair.restart(Who::Dome, 50_000);
    pair.run(100_000);
    let told = &pair.told[Who::Desk as usize];
    let ended =
        told.iter().find(|(_, told)| matches!(told, Told::Ended(EndReason::PeerRestarted(_)))).unwrap().0;
    // One OPEN of 32 octets.
    assert!(ended - before <= 32 * 1_000_000 / 11_520 + 1, "{told:?}");
    assert!(pair.is_up());
}
