//! The octets of each body, and the state that is saved.

use super::*;
use proptest::prelude::*;
use std::string::{String, ToString as _};

fn hex(octets: &[u8]) -> String {
    octets.iter().map(|octet| std::format!("{octet:02X}")).collect()
}

/// Written by hand from W-52; the CRC is the check value over "123456789" (RevEng catalogue, CRC-32/ISO-HDLC).
#[test]
fn bodies_are_laid_out_as_w52_says() {
    assert_eq!(crc_of(b"123456789"), 0xCBF4_3926);
    let offer = Offer { number: 5, crc: 0xCBF4_3926, size: 9, part: 8, topic: 0x0102 };
    let id = offer.id();
    let map = Map { base: 0x0A_0B0C, held: 0x8000_0001, window: 32 };
    for (message, wanted) in [
        (Message::Offer { offer, round: 15 }, "F1052639F4CB0900000008000201"),
        (Message::Part { id, index: 1, asks: None, octets: b"9" }, "0205263901000039"),
        (Message::Part { id, index: 1, asks: Some(3), octets: b"9" }, "3305263901000039"),
        (Message::Ask { id, round: 2 }, "24052639"),
        (Message::Map { id, round: 2, map }, "250526390C0B0A0100008020"),
        (Message::Done(id), "06052639"),
        (Message::Stop(id, Reason::Stopped), "0705263908"),
        (Message::Refuse(id, Reason::Busy), "0805263903"),
    ] {
        let body = write(message);
        assert_eq!(hex(&body), wanted);
        assert_eq!(Message::parse(&body), Ok(message));
        for len in 0..body.len() {
            assert_eq!(message.write(&mut vec![0; len]), None);
            if !matches!(message, Message::Part { .. }) || len < PART_HEAD {
                assert_eq!(Message::parse(&body[..len]), Err(Refused::BadLength), "{message:?} {len}");
            }
        }
        if !matches!(message, Message::Part { .. }) {
            assert_eq!(Message::parse(&[&body[..], &[0]].concat()), Err(Refused::BadLength));
        }
    }
    for window in [0, 33] {
        let body = write(Message::Map { id, round: 0, map: Map { window, ..map } });
        assert_eq!(Message::parse(&body), Err(Refused::BadField));
    }
    assert_eq!(Message::parse(&[9, 0, 0, 0]), Err(Refused::BadLength));
}

#[test]
fn every_reason_reads_back_and_has_words() {
    for code in 0..=255_u8 {
        let reason = Reason::from_code(code);
        assert!(reason as u8 == code || (code > 9 && reason == Reason::Other), "{code}");
        assert!(!reason.to_string().is_empty());
    }
}

#[test]
fn every_refusal_has_words_of_its_own() {
    let all = [
        Refused::BadLength,
        Refused::BadField,
        Refused::BadPart,
        Refused::OutsideWindow,
        Refused::Repeat,
        Refused::OldRound,
        Refused::OtherTransfer,
        Refused::OtherRole,
        Refused::Over,
    ];
    let mut words = all.map(|refused| refused.to_string());
    assert!(words.iter().zip(all).all(|(words, refused)| words == refused.reason() && words.contains(' ')));
    words.sort();
    assert!(words.windows(2).all(|pair| pair[0] != pair[1]), "{words:?}");
}

proptest! {
    #[test]
    fn anything_reads_as_nothing_or_as_what_writes_the_same_octets(body in prop::collection::vec(any::<u8>(), 0..40)) {
        if let Ok(message) = Message::parse(&body) {
            let again = write(message);
            let exact = !matches!(message, Message::Done(_) | Message::Stop(..) | Message::Refuse(..) | Message::Part { asks: None, .. });
            prop_assert!(!exact || again == body, "{:?}", message);
            prop_assert_eq!(Message::parse(&again), Ok(message));
        }
    }

    #[test]
    fn a_damaged_saved_state_is_not_restored(place in 0..SAVED_LEN * 8, base in 0_u32..20, window in 1_u8..32) {
        let content = content(330);
        let mut receiver = Receiver::new(limits(window));
        receiver.handle(&write(Message::Offer { offer: offer(1, &content, 16), round: 1 })).unwrap();
        receiver.accept();
        (0..base).for_each(|index| { receiver.stored(index); });
        receiver.stored(base + u32::from(window) - 1);
        let saved = receiver.save();
        let restored = Receiver::restore(limits(window), &saved).unwrap();
        prop_assert_eq!((restored.state(), restored.progress()), (receiver.state(), receiver.progress()));
        prop_assert_eq!(restored.save(), saved);
        let mut damaged = saved;
        damaged[place / 8] ^= 1 << (place % 8);
        prop_assert_eq!(Receiver::restore(limits(window), &damaged), None);
        prop_assert_eq!(Receiver::restore(limits(window), &saved[1..]), None);
        prop_assert_eq!(Receiver::restore(Limits { largest: 329, ..limits(window) }, &saved), None);
    }
}
