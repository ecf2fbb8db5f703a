//! Unordered links: the challenge, copies of old openings, pacing of new numbers (W-42), numberless boards (W-36).

#![allow(clippy::cast_possible_truncation)]

mod common;

use bellwire::{
    frame::{Class, Kind},
    framing::Datagram,
    link::{Config, EndReason, OwnNumber, State, WakeReason},
    time::Duration,
};
use common::{Pair, Told, Who, us};

const L: u32 = 100_000;

fn radio(own: OwnNumber) -> Config {
    Config { jitter_seed: 0, ..Config::datagram(common::RATE * 20, us(L), own) }
}

fn pair<const W: usize, const Q: usize>() -> Pair<Datagram, W, Q> {
    Pair::new(Datagram, [1_000, 2_000].map(|own| radio(OwnNumber::Stored(own))), 0)
}

fn opened<const W: usize, const Q: usize>() -> Pair<Datagram, W, Q> {
    let mut pair = pair();
    pair.run(20_000);
    assert!(pair.is_up());
    pair.forget();
    pair
}

#[test]
fn a_copy_of_any_opening_frame_within_its_lifetime_ends_nothing() {
    for copied in 0..8 {
        for late in [1, 500, 3_000, 10_000, 50_000, 99_000] {
            let mut pair = pair::<1, 4>();
            pair.line = Box::new(move |at, _| if at == copied { vec![0, late] } else { vec![0] });
            pair.run(20_000);
            for item in 0..5 {
                let _ = pair.send(Who::Desk, Class::Errand, &[9, item]);
                pair.run(30_000);
            }
            assert!(pair.is_up(), "frame {copied} again after {late} us");
            let ended = pair.told.iter().flatten().any(|(_, told)| matches!(told, Told::Ended(_)));
            assert!(!ended, "frame {copied} again after {late} us: {:?}", pair.told);
            assert_eq!(pair.got(Who::Dome, Class::Errand).len(), 5);
        }
    }
}

#[test]
fn a_restart_is_noticed_through_the_challenge() {
    let mut pair = opened::<1, 4>();
    pair.restart(Who::Dome, 50_000);
    pair.run(50_000);
    assert!(pair.is_up());
    assert!(matches!(pair.told(Who::Desk)[0], Told::Ended(EndReason::PeerRestarted(_))));
    assert!(matches!(pair.told(Who::Desk)[1], Told::Opened(_)));
    assert_eq!(pair.links.each_ref().map(|link| link.own_number()), [1_001, 50_000]);
    // Asking, challenge, answer to it, and the answer to that.
    let opens: Vec<(Who, bool)> = pair.sent.iter().map(|sent| (sent.from, sent.ask)).collect();
    assert_eq!(opens, [(Who::Dome, true), (Who::Desk, true), (Who::Dome, false)]);
}

#[test]
fn a_challenge_leaves_the_session_working() {
    let mut pair = opened::<1, 4>();
    // A stranger's OPEN, from another pair's board.
    let mut stranger =
        Pair::<Datagram, 1, 4>::new(Datagram, [77, 88].map(|own| radio(OwnNumber::Stored(own))), 0);
    stranger.drain(Who::Desk);
    let wire = stranger.sent[0].wire.clone();
    for item in 0..10 {
        pair.feed(Who::Dome, &wire);
        pair.feed(Who::Desk, &wire);
        pair.send(Who::Desk, Class::Errand, &[9, item]).unwrap();
        pair.run(20_000);
    }
    assert!(pair.is_up());
    assert_eq!(pair.got(Who::Dome, Class::Errand).len(), 10);
    assert!(pair.sent.iter().filter(|sent| sent.kind == Kind::Open).count() >= 20, "each was challenged");
}

#[test]
fn new_numbers_are_paced_so_that_no_copy_meets_its_number_again() {
    let mut pair = opened::<8, 8>();
    let mut at = vec![];
    let end = 1_000_000;
    while pair.now < end {
        while pair.send(Who::Desk, Class::Report, &[3, at.len() as u8]).is_ok() {
            at.push(());
        }
        if pair.links[0].poll_wake().reason == WakeReason::Pace {
            pair.run(500);
        } else {
            pair.step_once();
        }
    }
    let first: Vec<u64> =
        pair.sent.iter().filter(|sent| sent.kind == Kind::Report).map(|sent| sent.at).collect();
    let most = first
        .iter()
        .map(|&start| first.iter().filter(|&&at| at >= start && at < start + u64::from(L)).count())
        .max();
    assert_eq!(most, Some(240), "256 - 2 W in a lifetime");
    assert!(first.len() as u64 > 240 * (end / u64::from(L)) * 3 / 4, "and not much fewer: {}", first.len());
}

#[test]
fn a_numberless_board_keeps_quiet_after_every_end() {
    let mut pair = Pair::<Datagram, 1, 4>::new(
        Datagram,
        [radio(OwnNumber::Stored(1_000)), radio(OwnNumber::Numberless)],
        0,
    );
    pair.run(5_000_000);
    assert!(pair.is_up());
    let quiet = u64::from(2 * L + 250_000);
    assert_eq!(pair.sent.iter().find(|sent| sent.from == Who::Dome).unwrap().at, quiet);
    pair.forget();
    pair.line = Box::new(|_, _| vec![]);
    pair.run(5_000_000);
    let ended = pair.told[1].iter().find(|(_, told)| *told == Told::Ended(EndReason::Silence)).unwrap().0;
    let again = pair.sent.iter().find(|sent| sent.from == Who::Dome && sent.at >= ended).unwrap();
    assert_eq!((again.at - ended, again.ask), (quiet, true));
    assert_eq!(pair.links[1].own_number(), 0, "for ever");
    pair.line = common::perfect();
    pair.run(40_000_000);
    assert!(pair.is_up());
}

#[test]
fn a_numberless_board_that_restarts_is_noticed() {
    let configs = [radio(OwnNumber::Stored(1_000)), radio(OwnNumber::Numberless)];
    let mut pair = Pair::<Datagram, 1, 4>::new(Datagram, configs, 0);
    pair.run(5_000_000);
    pair.forget();
    let now = pair.instant();
    pair.links[1] = bellwire::link::Link::new(Datagram, configs[1], now);
    pair.run(5_000_000);
    assert!(pair.told(Who::Desk).iter().any(|told| matches!(told, Told::Ended(EndReason::PeerRestarted(_)))));
    assert!(pair.is_up());
    assert_eq!(pair.links[0].state(), State::Up);
    let _: Duration = us(0);
}

/// W-36: a copy of what a numberless board said before the session is not its next start.
#[test]
fn a_copy_of_a_numberless_boards_opening_ends_nothing() {
    for copied in 0..8 {
        for late in [1, 3_000, 50_000, 99_000] {
            let configs = [radio(OwnNumber::Stored(1_000)), radio(OwnNumber::Numberless)];
            let mut pair = Pair::<Datagram, 1, 4>::new(Datagram, configs, 0);
            pair.line = Box::new(move |at, _| if at == copied { vec![0, late] } else { vec![0] });
            pair.run(1_000_000);
            assert!(pair.is_up(), "frame {copied} again after {late} us");
            let ended = pair.told.iter().flatten().any(|(_, told)| matches!(told, Told::Ended(_)));
            assert!(!ended, "frame {copied} again after {late} us: {:?}", pair.told);
        }
    }
}

#[test]
fn a_board_with_a_number_need_not_keep_quiet_after_an_end() {
    let mut pair = opened::<1, 4>();
    assert!(pair.links.iter().all(|link| !link.peer().unwrap().numberless));
    pair.restart(Who::Dome, 50_000);
    pair.run(10_000);
    pair.forget();
    for who in Who::BOTH {
        pair.send(who, Class::Errand, &[9]).unwrap();
    }
    pair.run(10_000);
    assert_eq!(Who::BOTH.map(|who| pair.got(who, Class::Errand).len()), [1, 1]);
}

/// What is late may only have been overtaken: it is not sent again before its time-out.
#[test]
fn what_was_overtaken_is_not_lost() {
    let mut pair = opened::<2, 4>();
    pair.line =
        Box::new(|_, sent| if sent.kind == Kind::Errand && sent.number == 0 { vec![5_000] } else { vec![0] });
    for item in 0..2 {
        pair.send(Who::Desk, Class::Errand, &[9, item]).unwrap();
    }
    pair.run(50_000);
    assert_eq!(pair.got(Who::Dome, Class::Errand), [[9, 0], [9, 1]]);
    assert!(!pair.told(Who::Desk).iter().any(|told| matches!(told, Told::Resent(..))), "{:?}", pair.told);
    assert_eq!(pair.sent.iter().filter(|sent| sent.kind == Kind::Errand).count(), 2);
}
