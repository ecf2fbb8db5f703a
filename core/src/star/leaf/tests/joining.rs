//! How a leaf comes to its address, against the words of W-60.

use super::*;
use crate::{
    frame::Reject,
    link::{EndReason, Event, WakeReason, When},
    star::{JOIN_LEN, Join},
};
use std::vec::Vec;

const SECOND: u32 = 1_000_000;

fn join(wanted: u8) -> Vec<u8> {
    let body: [u8; JOIN_LEN] = Join { identity: IDENTITY, wanted, awake: 300 }.octets();
    [&[0xE0, 0x13][..], &body].concat()
}

fn joined(answer: Answer) -> Vec<u8> {
    welcome(IDENTITY, answer)
}

/// Without addresses, at the pace of an opening: 1, 2, 4 … 30 s apart (T_open of a radio), and nothing else.
#[test]
fn a_leaf_without_an_address_asks_for_one_at_the_pace_of_an_opening_and_says_nothing_else() {
    let mut leaf = leaf(Address::Asked);
    let mut sent = Vec::new();
    let mut now = 0;
    while sent.len() < 8 {
        leaf.handle_timeout(at(now));
        while let Some(frame) = sends(&mut leaf, at(now)) {
            assert_eq!(frame, join(0));
            sent.push(now / SECOND);
        }
        let When::At(next) = leaf.poll_wake().when else { panic!("{:?}", leaf.poll_wake()) };
        assert_eq!(leaf.poll_wake().reason, WakeReason::Joining);
        now = next.as_ticks();
    }
    assert_eq!(sent, [0, 1, 3, 7, 15, 31, 61, 91]);
    assert_eq!((leaf.address(), leaf.state()), (None, State::Down));
    assert!(leaf.send(at(now), Class::Report, &[1]).is_err());
}

#[test]
fn it_takes_the_answer_to_its_own_identity_and_opens_from_that_address() {
    let mut leaf = leaf(Address::Asked);
    assert_eq!(sends(&mut leaf, at(0)), Some(join(0)));
    hears(&mut leaf, at(1), &welcome(IDENTITY + 1, Answer::Seated(3)));
    hears(&mut leaf, at(2), &to(254, &[0xE0, 0x15]));
    assert!(matches!(leaf.poll_event(), Some(LeafEvent::Link(Event::Refused(Reject::BadAddress)))));
    assert_eq!(
        (leaf.address(), leaf.has_event()),
        (None, false),
        "another board's, and an address that nobody has"
    );
    hears(&mut leaf, at(3), &joined(Answer::Seated(7)));
    assert_eq!(leaf.poll_event(), Some(LeafEvent::Joined(7)));
    let open = sends(&mut leaf, at(3)).unwrap();
    assert_eq!(
        (open[0], &open[1..3], leaf.address()),
        (0x30, &[0, 7][..], Some(7)),
        "an OPEN from 7 to the hub"
    );
    hears(&mut leaf, at(4), &joined(Answer::Seated(9)));
    assert_eq!((leaf.address(), leaf.has_event()), (Some(7), false), "a late copy of another answer");
}

#[test]
fn a_refusal_is_told_once_and_asking_goes_on_slowly() {
    let mut leaf = leaf(Address::Wanted(7));
    assert_eq!(sends(&mut leaf, at(0)), Some(join(7)));
    for (now, told) in [(1, true), (2, false)] {
        hears(&mut leaf, at(now), &joined(Answer::Held(0xF0)));
        assert_eq!(leaf.poll_event(), told.then_some(LeafEvent::NotJoined(Answer::Held(0xF0))));
    }
    assert_eq!(leaf.poll_wake().when, When::At(at(30 * SECOND + 2)), "the slowest pace");
    hears(&mut leaf, at(3), &joined(Answer::Seated(8)));
    assert_eq!(leaf.address(), None, "an address that it did not ask for");
    leaf.handle_timeout(at(31 * SECOND));
    assert_eq!(sends(&mut leaf, at(31 * SECOND)), Some(join(7)));
    hears(&mut leaf, at(31 * SECOND), &joined(Answer::Full));
    assert_eq!(leaf.poll_event(), Some(LeafEvent::NotJoined(Answer::Full)));
    hears(&mut leaf, at(32 * SECOND), &joined(Answer::Seated(7)));
    assert_eq!(leaf.poll_event(), Some(LeafEvent::Joined(7)));
    assert_eq!(leaf.address(), Some(7));
}

/// An address that no leaf can have, and a board that cannot be told from another: said at once, and not a frame.
#[test]
fn what_cannot_be_is_told_and_stays_silent() {
    for address in [Address::Known(0), Address::Known(251), Address::Wanted(0), Address::Wanted(255)] {
        let mut leaf = leaf(address);
        assert_eq!(leaf.poll_event(), Some(LeafEvent::NotJoined(Answer::Impossible)), "{address:?}");
        assert_eq!(leaf.poll_event(), None);
        assert_eq!(sends(&mut leaf, at(9 * SECOND)), None);
        assert_eq!(leaf.poll_wake().when, When::Idle);
    }
    for (address, can) in [(Address::Asked, false), (Address::Wanted(7), false), (Address::Known(7), true)] {
        let link = crate::link::Config::datagram(0, LIFETIME, OwnNumber::Stored(1));
        let mut leaf = Leaf::<Datagram>::new(Datagram, LeafConfig::new(link, address), at(0));
        assert_eq!(leaf.poll_event().is_none(), can, "without an identity: {address:?}");
        assert_eq!(sends(&mut leaf, at(0)).is_some(), can);
        assert_eq!(leaf.poll_turn(at(0), &mut [0; 40]) > 0, can, "{address:?}");
    }
}

/// A hub that takes a leaf and then forgets it (a restart with an empty roster) is asked again after eight T_open.
#[test]
fn a_leaf_that_the_hub_has_forgotten_asks_again() {
    for (address, wanted) in [(Address::Asked, 0), (Address::Wanted(7), 7)] {
        let mut leaf = leaf(address);
        while sends(&mut leaf, at(0)).is_some() {}
        hears(&mut leaf, at(0), &joined(Answer::Seated(7)));
        let (mut now, mut opens) = (0, 0);
        let joins = loop {
            while leaf.poll_event().is_some() {}
            leaf.handle_timeout(at(now));
            match sends(&mut leaf, at(now)) {
                Some(frame) if frame[0] == 0x30 => opens += 1,
                Some(frame) => break frame,
                None => match leaf.poll_wake().when {
                    When::At(next) => now = next.as_ticks(),
                    when => panic!("{when:?}"),
                },
            }
        };
        assert_eq!((now, opens, joins), (8 * SECOND, 4, join(wanted)), "after OPENs at 0, 1, 3 and 7 s");
    }
}

/// With the end of a session an address that the hub chose is asked for anew; one that was set by hand stays.
#[test]
fn after_a_session_an_address_of_the_hubs_choice_is_asked_for_again() {
    for (address, first) in
        [(Address::Asked, Some(join(0))), (Address::Wanted(7), None), (Address::Known(7), None)]
    {
        let mut leaf = leaf(address);
        if address != Address::Known(7) {
            while sends(&mut leaf, at(0)).is_some() {}
            hears(&mut leaf, at(0), &joined(Answer::Seated(7)));
            assert_eq!(leaf.poll_event(), Some(LeafEvent::Joined(7)));
        }
        open(&mut leaf, at(0));
        leaf.close(at(1));
        assert_eq!(leaf.poll_event(), Some(LeafEvent::Link(Event::Ended(EndReason::Closed))));
        assert_eq!(
            (sends(&mut leaf, at(2)), leaf.poll_wake().when),
            (None, When::Idle),
            "closed: {address:?}"
        );
        leaf.handle_timeout(at(90 * SECOND));
        assert_eq!(sends(&mut leaf, at(90 * SECOND)), None);
        leaf.reopen(at(90 * SECOND));
        let frame = sends(&mut leaf, at(90 * SECOND)).expect("a frame");
        assert_eq!(Some(&frame), first.as_ref().or(Some(&frame)), "{address:?}");
        assert_eq!(frame[0] == 0x30, first.is_none(), "an OPEN from the address that it has");
    }
}

/// Boards with one seed in their program and the same power switch: the identity draws their second tries apart.
#[test]
fn boards_that_start_together_do_not_ask_together_for_long() {
    let mut seconds: Vec<_> = (0..20)
        .map(|identity| {
            let link = crate::link::Config::datagram(0, LIFETIME, OwnNumber::Stored(1));
            let link = crate::link::Config { identity: 0xD0 + identity, ..link };
            let mut leaf = Leaf::<Datagram>::new(Datagram, LeafConfig::new(link, Address::Asked), at(0));
            let _ = sends(&mut leaf, at(0));
            let When::At(next) = leaf.poll_wake().when else { panic!() };
            next.as_ticks()
        })
        .collect();
    seconds.sort_unstable();
    seconds.dedup();
    assert!(seconds.len() >= 18, "{seconds:?}");
}

/// W-36: not even a JOIN before the old frames are dead: two lifetimes and 250 ms.
#[test]
fn a_numberless_leaf_keeps_quiet_before_it_asks() {
    let link = crate::link::Config::datagram(0, LIFETIME, OwnNumber::Numberless);
    let link = crate::link::Config { identity: IDENTITY, ..link };
    let mut leaf = Leaf::<Datagram>::new(Datagram, LeafConfig::new(link, Address::Asked), at(0));
    assert_eq!(leaf.poll_wake().when, When::At(at(350_000)));
    hears(&mut leaf, at(1), &joined(Answer::Seated(7)));
    leaf.handle_timeout(at(349_999));
    assert_eq!((sends(&mut leaf, at(349_999)), leaf.address()), (None, None));
    leaf.handle_timeout(at(350_000));
    assert!(sends(&mut leaf, at(350_000)).is_some_and(|frame| frame[..2] == [0xE0, 0x13]));
}
