//! The random wait, the look, the two budgets.

use super::*;
use std::vec::Vec;

const fn us(ticks: u32) -> Duration {
    Duration::from_ticks(ticks)
}

const RULES: Rules = Rules {
    wait: us(100_000),
    doublings: 3,
    looks: 4,
    resends: 5,
    allowance: Allowance { airtime: 1_000_000, slice: us(10_000_000) },
    seed: 9,
};

fn first_wait(chance: &mut Chance<6>, try_number: u8) -> u32 {
    assert!(chance.want(us(10), try_number));
    match chance.poll() {
        Step::Wait(left) => left.as_ticks(),
        Step::Look => 0,
        step => panic!("{step:?}"),
    }
}

#[test]
fn the_wait_is_evenly_random_up_to_the_longest_which_doubles_for_a_resend() {
    for (try_number, longest) in [(0, 100_000), (1, 200_000), (2, 400_000), (3, 800_000), (9, 800_000)] {
        let mut chance = Chance::<6>::new(Rules { resends: 255, ..RULES });
        let waits: Vec<u32> = (0..8_000)
            .map(|_| {
                chance.elapse(us(60_000_000));
                first_wait(&mut chance, try_number)
            })
            .collect();
        assert!(waits.iter().all(|wait| *wait < longest), "{longest}");
        let mut bins = [0_u32; 8];
        for wait in waits {
            bins[(wait * 8 / longest) as usize] += 1;
        }
        // Chi-square of eight equal bins: beyond 40.5 once in a million for fair dice.
        let square: f64 = bins.iter().map(|count| (f64::from(*count) - 1_000.0).powi(2) / 1_000.0).sum();
        assert!(square < 40.5, "{bins:?}");
    }
    let mut sure = Chance::<6>::new(Rules { wait: us(0), seed: 0, ..RULES });
    assert_eq!(first_wait(&mut sure, 0), 0);
}

#[test]
fn a_busy_air_is_waited_for_and_told_of() {
    let mut chance = Chance::<6>::new(RULES);
    assert_eq!(chance.poll(), Step::Idle);
    chance.sent();
    chance.looked(true);
    assert_eq!((chance.poll(), chance.may_send()), (Step::Idle, May::No));
    assert!(chance.want(us(10_000), 0));
    for look in 1..=9 {
        while let Step::Wait(left) = chance.poll() {
            chance.elapse(left);
        }
        assert_eq!((chance.poll(), chance.may_send()), (Step::Look, May::Look));
        chance.looked(false);
        assert_eq!(chance.poll_deferred(), (look == 4).then_some(Deferred::Busy), "look {look}");
        assert!(matches!(chance.may_send(), May::In(left) if left.as_ticks() < 800_000));
    }
    while let Step::Wait(left) = chance.poll() {
        chance.elapse(left);
    }
    chance.looked(true);
    assert_eq!((chance.poll(), chance.may_send()), (Step::Send, May::Now));
    chance.looked(false);
    assert_eq!(chance.poll(), Step::Send, "a look after the look changes nothing");
    chance.sent();
    assert_eq!((chance.poll(), chance.account().left()), (Step::Idle, us(990_000)));
    chance.want(us(10), 0);
    chance.forget();
    assert_eq!(chance.poll(), Step::Idle);
}

#[test]
fn resends_beyond_the_minute_are_deferred_and_told_of() {
    let mut chance = Chance::<6>::new(Rules { wait: us(0), ..RULES });
    for _ in 0..5 {
        assert_eq!((first_wait(&mut chance, 1), chance.poll_deferred()), (0, None));
        chance.looked(true);
        chance.sent();
    }
    assert_eq!((first_wait(&mut chance, 0), chance.poll_deferred()), (0, None), "a first try is none");
    assert_eq!((first_wait(&mut chance, 1), chance.poll_deferred()), (70_000_000, Some(Deferred::Resends)));
    let mut never = Chance::<6>::new(Rules { resends: 0, ..RULES });
    assert!(never.want(us(10), 0) && !never.want(us(10), 1));
    assert_eq!(never.poll(), Step::Idle);
}

#[test]
fn airtime_beyond_the_window_is_deferred_and_told_of() {
    let mut chance = Chance::<6>::new(Rules { wait: us(0), ..RULES });
    for _ in 0..2 {
        assert!(chance.want(us(500_000), 0));
        chance.looked(true);
        chance.sent();
    }
    assert!(chance.want(us(1), 0));
    assert_eq!(chance.poll_deferred(), Some(Deferred::Airtime));
    assert_eq!(chance.poll(), Step::Wait(us(70_000_000)));
    chance.elapse(us(70_000_000));
    assert_eq!(chance.poll(), Step::Look);
    assert!(!chance.want(us(1_000_001), 0), "longer than the whole allowance");
    for deferred in [Deferred::Airtime, Deferred::Resends, Deferred::Busy] {
        assert!(!deferred.reason().is_empty());
    }
}
