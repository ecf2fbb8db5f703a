//! Who gets the turn, how often a quiet leaf does, and what ends a turn.

use super::*;
use proptest::prelude::*;
use std::{vec, vec::Vec};

const fn us(ticks: u32) -> Duration {
    Duration::from_ticks(ticks)
}

const TIMING: Timing = Timing { turnaround: us(100), reply: us(2_000), longest: us(5_000), passed_over: 8 };

fn turn<const LEAVES: usize>(present: &[u8]) -> Turn<LEAVES> {
    let mut turn = Turn::new(TIMING);
    present.iter().for_each(|&address| assert!(turn.set_present(address, true)));
    turn
}

/// Gives one turn; `answers` says whether the leaf replies.
fn give<const LEAVES: usize>(turn: &mut Turn<LEAVES>, answers: impl FnOnce(u8) -> bool) -> Option<u8> {
    while let Give::Wait(left) = turn.poll() {
        turn.elapse(left);
    }
    let Give::To(leaf) = turn.poll() else { return None };
    turn.gave(us(700));
    assert_eq!(turn.poll(), Give::Wait(us(2_700)));
    if answers(leaf) {
        turn.elapse(us(1_500));
        turn.heard();
        turn.elapse(us(900));
        assert!(turn.replied(leaf));
    } else {
        turn.elapse(us(2_699));
        assert_eq!(turn.poll_end(), None);
        turn.elapse(us(1));
        assert!(matches!(turn.poll_end(), Some(TurnEnd::NoReply { leaf: quiet, .. }) if quiet == leaf));
    }
    assert_eq!(turn.poll(), Give::Wait(us(100)), "the line turns around");
    Some(leaf)
}

#[test]
fn the_turn_goes_round_and_comes_back() {
    let mut turn = turn::<6>(&[2, 3, 6]);
    let given: Vec<_> = (0..7).filter_map(|_| give(&mut turn, |_| true)).collect();
    assert_eq!(given, [2, 3, 6, 2, 3, 6, 2]);
    turn.set_present(3, false);
    let given: Vec<_> = (0..3).filter_map(|_| give(&mut turn, |_| true)).collect();
    assert_eq!(given, [6, 2, 6]);
    assert!(!turn.set_present(0, true) && !turn.set_present(7, true));
    assert_eq!(Turn::<3>::new(TIMING).poll(), Give::Nobody);
}

/// Passed over for 1, 2, 4, 8, 8 … rounds: polled in rounds 0, 2, 5, 10, 19, 28, and in every one again from the round after it replied.
#[test]
fn a_quiet_leaf_is_polled_less_and_at_once_again_when_it_replies() {
    let mut turn = turn::<4>(&[1, 2]);
    let mut polled = vec![];
    let mut round = 0;
    while round < 40 {
        let replies_again = round >= 36;
        match give(&mut turn, |leaf| leaf == 1 || replies_again) {
            Some(1) => round += 1,
            Some(2) => polled.push(round - 1),
            other => panic!("{other:?}"),
        }
    }
    assert_eq!(polled, [0, 2, 5, 10, 19, 28, 37, 38]);
}

#[test]
fn leaves_that_are_all_quiet_are_polled_without_a_pause() {
    let mut turn = turn::<3>(&[1, 3]);
    let given: Vec<_> = (0..40).filter_map(|_| give(&mut turn, |_| false)).collect();
    assert_eq!(given.len(), 40);
    assert!(given.iter().filter(|leaf| **leaf == 1).count() >= 15, "{given:?}");
}

#[test]
fn a_reply_that_does_not_end_and_one_out_of_turn_are_told() {
    let mut turn = turn::<3>(&[1, 2]);
    assert_eq!(turn.poll(), Give::To(1));
    assert!(!turn.replied(1), "nobody has the turn yet");
    turn.gave(us(700));
    turn.elapse(us(1_000));
    turn.heard();
    assert!(!turn.replied(2), "it was not this leaf's turn");
    turn.elapse(us(4_999));
    turn.heard();
    turn.elapse(us(1));
    assert_eq!(turn.poll_end(), Some(TurnEnd::Unfinished { leaf: 1 }));
    assert_eq!(turn.poll_end(), None);
    turn.elapse(us(100));
    turn.told_all(us(700));
    assert_eq!(turn.poll(), Give::Wait(us(800)));
    turn.elapse(us(800));
    assert_eq!((turn.poll(), turn.poll_end()), (Give::To(2), None));
}

#[test]
fn a_leaf_talks_after_the_turnaround_and_before_the_hub_takes_the_turn_back() {
    let mut leaf = TurnTaken::new(TIMING);
    assert_eq!(leaf.may_send(), May::No);
    leaf.given();
    leaf.elapse(us(99));
    assert_eq!(leaf.may_send(), May::In(us(1)));
    leaf.elapse(us(1));
    assert_eq!(leaf.may_send(), May::Now);
    leaf.elapse(us(1_899));
    assert_eq!(leaf.may_send(), May::Now);
    leaf.elapse(us(1));
    assert_eq!(leaf.may_send(), May::No);
    leaf.given();
    leaf.elapse(us(100));
    leaf.sent();
    assert_eq!(leaf.may_send(), May::No, "one frame a turn");
    leaf.given();
    leaf.over();
    leaf.elapse(us(100));
    assert_eq!(leaf.may_send(), May::No);
    let mut anyone = super::super::FullDuplex;
    anyone.elapse(us(1));
    assert_eq!(anyone.may_send(), May::Now);
}

proptest! {
    /// Whoever replies gets as many turns as any other that does, but one.
    #[test]
    fn leaves_that_reply_share_alike(present in prop::collection::btree_set(1_u8..=20, 1..20), mute in prop::collection::btree_set(1_u8..=20, 0..20)) {
        let all: Vec<u8> = present.iter().copied().collect();
        let mut turn = turn::<20>(&all);
        let mut turns = [0_u32; 21];
        for _ in 0..400 {
            let leaf = give(&mut turn, |leaf| !mute.contains(&leaf)).expect("somebody");
            prop_assert!(present.contains(&leaf));
            turns[usize::from(leaf)] += 1;
        }
        let talkers: Vec<u32> = all.iter().filter(|leaf| !mute.contains(leaf)).map(|leaf| turns[usize::from(*leaf)]).collect();
        if let (Some(least), Some(most)) = (talkers.iter().min(), talkers.iter().max()) {
            prop_assert!(most - least <= 1, "{:?}", turns);
        }
    }
}
