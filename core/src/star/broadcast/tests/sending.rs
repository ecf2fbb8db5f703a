//! The hub's side, read back by a reader of its own.

use super::*;
use crate::{
    fcs::Fcs16,
    frame::{Read, Reader},
    framing::{Cobs, Datagram, Framing, Lead},
};
use std::{vec, vec::Vec};

type Sender = BroadcastSender<8, 3>;

/// What a listener reads of the next frame: class, broadcast bits, number, payload.
fn next<F: Framing>(hub: &mut Sender, framing: F) -> Option<(Class, u32, u8, Vec<u8>)> {
    let mut out = [0; 40];
    let len = hub.poll_transmit::<F, Fcs16>(&framing, Lead::Delimiter, &mut out)?;
    let mut reader = Reader::<F, Fcs16, 64>::new(framing);
    let mut at = 0;
    while at < len {
        let (consumed, read) = reader.feed(&out[at..len]);
        at += consumed;
        if let Some(Read::Frame(view)) = read {
            let header = view.header;
            assert_eq!(header.addresses, Some(Addresses { to: 255, from: 0 }));
            assert_eq!(header.ack, None);
            let bits = u32::from(header.session) | u32::from(header.tag.unwrap_or(0)) << 2;
            return Some((header.kind.class()?, bits, header.number, view.payload.to_vec()));
        }
    }
    panic!("no frame in {:02x?}", &out[..len]);
}

#[test]
fn newest_set_points_go_first_and_a_waiting_notice_after_each() {
    let mut hub = Sender::new(HUB, LIFETIME);
    assert_eq!(hub.poll_wait(), None);
    assert_eq!(hub.send(Class::Notice, &[8, 1]), Ok(Waits::Queued));
    assert_eq!(hub.send(Class::SetPoint, &[4, 10]), Ok(Waits::Queued));
    assert_eq!(hub.send(Class::SetPoint, &[5, 10]), Ok(Waits::Queued));
    assert_eq!(hub.send(Class::SetPoint, &[4, 20]), Ok(Waits::InPlaceOfOlder), "newest wins, full or not");
    assert_eq!(hub.send(Class::Notice, &[8, 2]), Err(BroadcastError::QueueFull));
    assert_eq!(hub.send(Class::SetPoint, &[6, 10]), Ok(Waits::InPlaceOfNotice));
    assert_eq!(hub.send(Class::SetPoint, &[7, 10]), Err(BroadcastError::QueueFull));
    assert_eq!(next(&mut hub, Datagram), Some((Class::SetPoint, HUB, 0, vec![4, 20])));
    assert_eq!(hub.send(Class::Notice, &[8, 3]), Ok(Waits::Queued));
    assert_eq!(next(&mut hub, Datagram), Some((Class::Notice, HUB, 1, vec![8, 3])));
    assert_eq!(next(&mut hub, Datagram), Some((Class::SetPoint, HUB, 2, vec![5, 10])));
    assert_eq!(next(&mut hub, Cobs), Some((Class::SetPoint, HUB & 3, 3, vec![6, 10])), "two bits on a wire");
    assert_eq!((next(&mut hub, Datagram), hub.poll_wait()), (None, None));
    assert_eq!(hub.tell(SESSION), Told { session: SESSION, broadcast: HUB, next: 4 });
}

#[test]
fn what_is_not_accepted_says_why() {
    let mut hub = Sender::new(0, LIFETIME);
    for class in [Class::Errand, Class::Report] {
        assert_eq!(hub.send(class, &[1]), Err(BroadcastError::Confirmed));
    }
    assert_eq!(hub.send(Class::Notice, &[]), Err(BroadcastError::BadMessageNumber));
    assert_eq!(hub.send(Class::Notice, &[0x80, 0]), Err(BroadcastError::BadMessageNumber));
    assert_eq!(hub.send(Class::Notice, &[0; 9]), Err(BroadcastError::TooLong { limit: 8 }));
    assert_eq!(hub.send(Class::Notice, &[0; 8]), Ok(Waits::Queued));
}

#[test]
fn at_most_127_go_out_in_any_two_lifetimes_and_a_wire_has_no_such_limit() {
    let two = 2 * LIFETIME.as_ticks();
    let mut hub = Sender::new(HUB, LIFETIME);
    let mut sent = Vec::new();
    for step in 0..8_000_u32 {
        hub.elapse(Duration::from_ticks(500));
        let _ = hub.send(Class::SetPoint, &[4, 10]);
        if next(&mut hub, Datagram).is_some() {
            sent.push(step * 500);
        }
    }
    let in_two = |from: usize| sent[from..].iter().take_while(|&&at| at - sent[from] < two).count();
    assert_eq!((0..sent.len()).map(in_two).max(), Some(127));
    let mut wire = Sender::new(HUB, Duration::from_ticks(0));
    for _ in 0..300 {
        let _ = wire.send(Class::SetPoint, &[4, 10]);
        assert!(next(&mut wire, Cobs).is_some());
    }
}

#[test]
fn a_frame_that_does_not_fit_is_given_as_no_octets() {
    let mut hub = Sender::new(HUB, LIFETIME);
    let _ = hub.send(Class::Notice, &[8, 1]);
    let mut out = [0; 3];
    assert_eq!(hub.poll_transmit::<_, Fcs16>(&Datagram, Lead::Delimiter, &mut out), Some(0));
    assert_eq!(hub.poll_wait(), None);
}
