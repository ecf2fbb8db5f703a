//! The octets, and what a leaf takes and sends, against the words of W-69.

use super::*;
use std::vec;

#[test]
fn the_octets_lie_where_they_are_written_down() {
    let mut leaf = Arriving::<13>::new(&CONFIG, &[7, 1, 2, 3]).unwrap();
    let frame = sends(&mut leaf).unwrap();
    assert_eq!(frame, [0xF0, 0, 3, 0x18, 1, 2, 3, 4, 0x60, 5, 6, 7, 8, 7, 1, 2, 3]);
    let arrival = Arrival::parse(&frame[4..]).unwrap();
    assert_eq!((arrival.mine, arrival.fingerprint, arrival.numberless), (0x0403_0201, 0x0807_0605, false));
    assert_eq!((arrival.cause, arrival.payload), (ResetCause::Wake, &[7, 1, 2, 3][..]));
    assert_eq!(arrival.head(), frame[4..13]);
    for (welcomed, octet) in [
        (Welcomed::Taken { more: false }, 0),
        (Welcomed::Taken { more: true }, 0x80),
        (Welcomed::Mismatch, 1),
    ] {
        let answer = ArrivalAnswer { mine: 0x0403_0201, welcomed };
        assert_eq!(answer.octets(), [1, 2, 3, 4, octet]);
        assert_eq!(ArrivalAnswer::parse(&answer.octets()), Some(answer));
        assert_eq!(answers(answer, 3), [0xF0, 3, 0, 0x18, 1, 2, 3, 4, octet]);
    }
}

#[test]
fn what_means_nothing_is_refused() {
    let good = [1, 2, 3, 4, 0x64, 5, 6, 7, 8, 7];
    assert!(Arrival::parse(&good).is_some_and(|arrival| arrival.numberless));
    for len in 0..good.len() {
        assert_eq!(Arrival::parse(&good[..len]), None, "{len} octets");
    }
    for bit in [0, 1, 3, 7] {
        let mut bad = good;
        bad[4] |= 1 << bit;
        assert_eq!(Arrival::parse(&bad), None, "bit {bit}");
    }
    for message in [&[0x80][..], &[0x81, 0]] {
        assert_eq!(Arrival::parse(&[&good[..9], message].concat()), None, "{message:?}");
    }
    for octet in (2..=255).filter(|octet| *octet != 0x80) {
        assert_eq!(ArrivalAnswer::parse(&[1, 2, 3, 4, octet]), None, "{octet}");
    }
    assert_eq!((ArrivalAnswer::parse(&[0; 4]), ArrivalAnswer::parse(&[0; 6])), (None, None));
}

#[test]
fn what_cannot_be_sent_says_why() {
    let new = |config, payload: &[u8]| Arriving::<13>::new(&config, payload).map(|_| ());
    for address in [0, 251, 255] {
        assert_eq!(new(ArrivingConfig { address, ..CONFIG }, &[7]), Err(NotArriving::BadAddress));
    }
    assert_eq!(new(CONFIG, &[7, 1, 2, 3, 4]), Err(NotArriving::TooLong { limit: 4 }));
    assert_eq!(new(CONFIG, &[]), Err(NotArriving::BadMessageNumber));
    assert_eq!(new(CONFIG, &[0x80, 0]), Err(NotArriving::BadMessageNumber));
}

/// The same frame 300 and 600 ms apart, then a last wait of 1200 ms: three tries, and the outcome is unknown.
#[test]
fn the_same_frame_is_sent_until_it_is_answered_or_the_tries_are_used_up() {
    let mut leaf = Arriving::<13>::new(&CONFIG, &[7]).unwrap();
    let first = sends(&mut leaf).unwrap();
    for wait in [300, 600] {
        assert_eq!((sends(&mut leaf), leaf.poll_wait()), (None, Some(ms(wait))));
        leaf.elapse(ms(wait));
        assert_eq!(sends(&mut leaf).as_ref(), Some(&first));
    }
    let mut answered = leaf.clone();
    leaf.elapse(ms(1_199));
    assert_eq!((leaf.outcome(), leaf.poll_wait()), (None, Some(ms(1))));
    leaf.elapse(ms(1));
    assert_eq!(
        (leaf.outcome(), leaf.poll_wait(), sends(&mut leaf)),
        (Some(ArrivingOutcome::Unknown), None, None)
    );

    let good = answers(ArrivalAnswer { mine: 0x0403_0201, welcomed: Welcomed::Taken { more: true } }, 3);
    let other = ArrivalAnswer { mine: 0x0403_0200, welcomed: Welcomed::Mismatch };
    let mut from_a_leaf = good.clone();
    from_a_leaf[2] = 4;
    for skipped in [answers(other, 3), answers(other, 4), from_a_leaf, vec![], good[..8].to_vec(), first] {
        assert!(!answered.hear(&skipped), "{skipped:02x?}");
    }
    assert!(answered.hear(&good) && !answered.hear(&good));
    assert_eq!(answered.outcome(), Some(ArrivingOutcome::Delivered { more: true }));
    assert!(!leaf.hear(&good), "too late: it is unknown");
}

/// Nothing is sent later than the span after the first sending, whatever tries are left and however late the program polls.
#[test]
fn after_the_span_nothing_is_sent() {
    for (span, sendings) in [(ms(899), 2), (ms(901), 3)] {
        let config = ArrivingConfig { span, tries: 9, ..CONFIG };
        let mut leaf = Arriving::<13>::new(&config, &[7]).unwrap();
        leaf.elapse(ms(60_000));
        let mut count = 0;
        while let Some(wait) = leaf.poll_wait() {
            leaf.elapse(wait);
            count += u32::from(sends(&mut leaf).is_some());
        }
        assert_eq!((count, leaf.outcome()), (sendings, Some(ArrivingOutcome::Unknown)));
    }
    let mut leaf = Arriving::<13>::new(&ArrivingConfig { span: ms(500), ..CONFIG }, &[7]).unwrap();
    assert!(sends(&mut leaf).is_some());
    leaf.elapse(ms(300));
    assert_eq!(leaf.poll_wait(), Some(ms(0)));
    leaf.elapse(ms(200));
    assert_eq!((sends(&mut leaf), leaf.outcome()), (None, Some(ArrivingOutcome::Unknown)), "polled too late");
}

/// The span, two lifetimes, and 2.25 s.
#[test]
fn a_numberless_leaf_keeps_quiet_first() {
    let config = ArrivingConfig { own: OwnNumber::Numberless, ..CONFIG };
    let mut leaf = Arriving::<13>::new(&config, &[7]).unwrap();
    assert_eq!((leaf.poll_wait(), sends(&mut leaf)), (Some(ms(13_250)), None));
    leaf.elapse(ms(13_249));
    assert!(
        !leaf.hear(&answers(ArrivalAnswer { mine: 0, welcomed: Welcomed::Mismatch }, 3)),
        "of an earlier life"
    );
    leaf.elapse(ms(1));
    assert_eq!(sends(&mut leaf).unwrap()[4..9], [0, 0, 0, 0, 0x64]);
}

#[test]
fn a_hub_with_another_agreement_says_so_and_takes_nothing() {
    let mut hub = Arrivals::<4>::new(0x1111_1111, ms(10_000), ms(500));
    let arrival = |fingerprint| Arrival {
        mine: 1,
        numberless: false,
        cause: ResetCause::Wake,
        fingerprint,
        payload: &[7],
    };
    let other = arrival(0x2222_2222);
    let handled = hub.handle(3, &other, 0);
    assert_eq!(handled, Err(NotArrived::Mismatch { ours: 0x1111_1111, theirs: 0x2222_2222 }));
    let answer = Arrivals::<4>::answer(&other, &handled, true).unwrap();
    assert_eq!(answer.welcomed, Welcomed::Mismatch);
    assert_eq!(hub.handle(3, &arrival(0), 0), Ok(Fresh::New), "no agreement matches any");
    for leaf in [0, 5, 255] {
        let handled = hub.handle(leaf, &arrival(0), 0);
        assert_eq!(handled, Err(NotArrived::NoSuchLeaf));
        assert_eq!(Arrivals::<4>::answer(&other, &handled, false), None);
    }
    hub.forget(3);
    assert_eq!(hub.handle(3, &arrival(0), 0), Ok(Fresh::New), "another board may have the address");
}
