//! Against a plain map of who sits where.

use super::*;
use proptest::prelude::*;
use std::{collections::BTreeMap, string::ToString as _};

#[test]
fn two_boards_on_one_address_are_both_named() {
    let mut roster = Roster::<4>::new(100);
    assert_eq!(roster.join(0xF0, 3, 0), Ok(Seated::New(3)));
    let clash = Clash { address: 3, seated: 0xF0, came: 0xF1 };
    assert_eq!(roster.join(0xF1, 3, 50), Err(NotSeated::Held(clash)));
    // They may also just talk, without joining: an OPEN tells who it is.
    assert_eq!(roster.heard(3, Some(0xF1), 60), Err(clash));
    assert_eq!(roster.heard(3, Some(0xF0), 60), Ok(true));
    assert_eq!(roster.heard(3, None, 61), Ok(true));
    assert_eq!(
        clash.to_string(),
        "address 3 is that of board 00000000000000F0, and 00000000000000F1 uses it too: give one of them another"
    );
    // When the first one is not heard any more, the second may have it.
    assert!(matches!(roster.join(0xF1, 3, 160), Err(NotSeated::Held(_))));
    assert_eq!(roster.join(0xF1, 3, 161), Ok(Seated::New(3)));
}

#[test]
fn who_comes_back_gets_the_address_it_had() {
    let mut roster = Roster::<3>::new(0);
    for (identity, address) in [(7, 1), (8, 2), (9, 3)] {
        assert_eq!(roster.join(identity, 0, 0), Ok(Seated::New(address)));
    }
    assert_eq!(roster.join(8, 0, u32::MAX), Ok(Seated::Again(2)), "without expiry nobody is ever gone");
    assert_eq!(roster.join(10, 0, u32::MAX), Err(NotSeated::Full));
    assert_eq!(roster.join(0, 0, 0), Err(NotSeated::NoIdentity));
    assert_eq!(roster.join(7, 4, 0), Err(NotSeated::NoSuchAddress));
    assert_eq!(roster.leave(2).map(|seat| seat.identity), Some(8));
    assert_eq!(roster.join(9, 2, 5), Ok(Seated::Moved { from: 3, to: 2 }));
    assert_eq!(roster.seat(2), Some(&Seat { identity: 9, fixed: true, heard: 5 }));
    assert_eq!((roster.seat(0), roster.seat(3), roster.seat(4)), (None, None, None));
    assert_eq!(
        (roster.leave(0), roster.heard(0, None, 0), roster.heard(200, None, 0)),
        (None, Ok(false), Ok(false))
    );
}

#[test]
fn each_expired_leaf_is_told_once_within_one_round_of_looks() {
    let mut roster = Roster::<5>::new(60);
    for (identity, now) in [(1, 0), (2, 10), (3, 40)] {
        roster.join(identity, 0, now).unwrap();
    }
    let gone = |roster: &mut Roster<5>, now| {
        (0..5)
            .filter_map(|_| roster.poll_expired(now))
            .map(|(address, _)| address)
            .collect::<std::vec::Vec<_>>()
    };
    assert_eq!(gone(&mut roster, 59), []);
    assert_eq!(gone(&mut roster, 70), [1, 2]);
    assert_eq!(gone(&mut roster, 70), []);
    assert_eq!(gone(&mut roster, 100), [3]);
}

/// Written by hand from W-60.
#[test]
fn join_and_welcome_are_laid_out_as_w60_says() {
    let join = Join { identity: 0x0807_0605_0403_0201, wanted: 9, awake: 0x0B0A };
    assert_eq!(join.octets(), [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11]);
    assert_eq!(Join::parse(&join.octets()), Some(join));
    let clash = Clash { address: 9, seated: 0x1817_1615_1413_1211, came: join.identity };
    for (joined, tail) in [
        (Ok(Seated::New(9)), [0, 9, 0, 0, 0, 0, 0, 0, 0, 0]),
        (Ok(Seated::Moved { from: 3, to: 4 }), [0, 4, 0, 0, 0, 0, 0, 0, 0, 0]),
        (Err(NotSeated::Full), [1, 0, 0, 0, 0, 0, 0, 0, 0, 0]),
        (Err(NotSeated::Held(clash)), [2, 0, 0x11, 0x12, 0x13, 0x14, 0x15, 0x16, 0x17, 0x18]),
        (Err(NotSeated::NoSuchAddress), [3, 0, 0, 0, 0, 0, 0, 0, 0, 0]),
    ] {
        let welcome = Welcome::of(join.identity, joined);
        let octets = welcome.octets();
        assert_eq!((&octets[..8], &octets[8..]), (&[1, 2, 3, 4, 5, 6, 7, 8][..], &tail[..]));
        assert_eq!(Welcome::parse(&octets), Some(welcome));
        assert_eq!(Welcome::parse(&octets[..17]), None);
        assert_eq!(Welcome::parse(&[&octets[..], &[0]].concat()), None);
    }
    assert_eq!((Join::parse(&[0; 10]), Join::parse(&[0; 12])), (None, None));
    for bad in [[0, 0], [0, 251], [4, 1]] {
        let mut octets = Welcome { identity: 1, answer: Answer::Full }.octets();
        octets[8..10].copy_from_slice(&bad);
        assert_eq!(Welcome::parse(&octets), None, "{bad:?}");
    }
}

proptest! {
    /// Nobody sits twice, nobody is pushed off, and who is refused has a reason that a plain map confirms.
    #[test]
    fn the_roster_is_a_map_in_which_nobody_is_pushed_off(acts in prop::collection::vec((1_u64..12, 0_u8..8, 0_u32..9), 1..120)) {
        let mut roster = Roster::<6>::new(30);
        let mut model = BTreeMap::<u8, (u64, u32)>::new();
        let mut now = 0;
        for (identity, wanted, pause) in acts {
            now += pause;
            let alive = |model: &BTreeMap<u8, (u64, u32)>, address: u8| model.get(&address).filter(|(_, heard)| now - heard < 30).copied();
            match roster.join(identity, wanted, now) {
                Ok(seated) => {
                    let address = seated.address();
                    prop_assert!((1..=6).contains(&address) && (wanted == 0 || wanted == address));
                    prop_assert!(alive(&model, address).is_none_or(|(who, _)| who == identity));
                    model.retain(|_, (who, _)| *who != identity);
                    model.insert(address, (identity, now));
                }
                Err(NotSeated::Full) => prop_assert!(wanted == 0 && (1..=6).all(|address| alive(&model, address).is_some())),
                Err(NotSeated::Held(clash)) => {
                    prop_assert_eq!(alive(&model, wanted).map(|(who, _)| who), Some(clash.seated));
                    prop_assert_eq!((clash.came, clash.address), (identity, wanted));
                    prop_assert_ne!(clash.seated, identity);
                }
                Err(NotSeated::NoSuchAddress) => prop_assert!(wanted > 6),
                Err(NotSeated::NoIdentity) => prop_assert!(false),
            }
            let sits: BTreeMap<u8, (u64, u32)> = roster.seats().map(|(address, seat)| (address, (seat.identity, seat.heard))).collect();
            prop_assert_eq!(&sits, &model);
        }
    }
}
