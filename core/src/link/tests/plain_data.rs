//! Two links are equal, and hash alike, if they go on alike: every part of the state counts, and what is left over in buffers does not.

use core::fmt::Debug;
use std::hash::{DefaultHasher, Hash, Hasher};

use super::{
    super::{Config, EndReason, Inbox, OwnNumber, Peer, SendError},
    at, us,
};
use crate::{
    fcs::Fcs16,
    frame::{Class, ResetCause},
    framing::{Cobs, ControlMap, OctetStuffing},
    link::{
        flight::Flights,
        receiver::{Found, Receiver, Span},
        slot::Slot,
    },
};

fn hash<T: Hash>(value: &T) -> u64 {
    let mut hasher = DefaultHasher::new();
    value.hash(&mut hasher);
    hasher.finish()
}

/// No two of these are equal, nor hash alike; each equals itself.
fn differ<T: Clone + Eq + Hash + Debug>(all: &[T]) {
    for (at, one) in all.iter().enumerate() {
        for (place, other) in all.iter().enumerate() {
            assert_eq!(one == other, at == place, "{one:?}\n{other:?}");
            assert_eq!(hash(one) == hash(other), at == place, "{one:?}\n{other:?}");
        }
    }
}

fn alike<T: Eq + Hash + Debug>(one: &T, other: &T) {
    assert_eq!(one, other);
    assert_eq!(hash(one), hash(other));
}

#[test]
fn every_part_of_a_configuration_counts() {
    let base = Config::uart(115_200, OwnNumber::Stored(1));
    differ(&[
        base,
        Config { own: OwnNumber::Random(1), ..base },
        Config { identity: 1, ..base },
        Config { fingerprint: 1, ..base },
        Config { cause: ResetCause::Fault, ..base },
        Config { octet_rate: 1, ..base },
        Config { keep_alive: us(1), ..base },
        Config { tries: 1, ..base },
        Config { lifetime: us(1), ..base },
        Config { set_point_backlog: 1, ..base },
        Config { ack_delay: us(1), ..base },
        Config { jitter_seed: 1, ..base },
    ]);
    assert_eq!(Config::stream(OwnNumber::Numberless).octet_rate, 0);
    let datagram = Config::datagram(500, us(7), OwnNumber::Numberless);
    assert_eq!((datagram.octet_rate, datagram.lifetime), (500, us(7)));
}

#[test]
fn every_part_of_a_peer_counts() {
    let base = Peer {
        identity: 0,
        fingerprint: 0,
        cause: ResetCause::Unknown,
        numberless: false,
        window: 1,
        max_payload: 48,
        silence: us(0),
        session: 0,
    };
    differ(&[
        base,
        Peer { identity: 1, ..base },
        Peer { fingerprint: 1, ..base },
        Peer { cause: ResetCause::Fault, ..base },
        Peer { numberless: true, ..base },
        Peer { window: 2, ..base },
        Peer { max_payload: 49, ..base },
        Peer { silence: us(1), ..base },
        Peer { session: 1, ..base },
    ]);
    differ(&[EndReason::Silence, EndReason::Mismatch, EndReason::Closed]);
    differ(&[SendError::NotOpen, SendError::TooLong { limit: 1 }, SendError::TooLong { limit: 2 }]);
}

#[test]
fn of_a_slot_only_what_is_kept_counts() {
    let kept = |octets: &[u8]| {
        let mut slot = Slot::<4>::EMPTY;
        assert!(slot.keep(&[9; 4]));
        assert!(slot.keep(octets));
        slot
    };
    differ(&[kept(&[]), kept(&[1]), kept(&[2]), kept(&[1, 1])]);
    alike(&kept(&[]), &Slot::EMPTY);
    let mut full = kept(&[1, 2]);
    assert!(!full.keep(&[1, 2, 3, 4, 5]), "five do not fit four");
    alike(&full, &kept(&[1, 2]));
    assert!(!full.extend(&[3, 4, 5]), "nor do two and three");
    alike(&full, &kept(&[1, 2]));
    assert!(full.extend(&[3, 4]));
    assert_eq!(full.octets(), [1, 2, 3, 4]);
    assert!(full.keep(&[1, 2, 3, 4]));
    assert_eq!(full.octets(), [1, 2, 3, 4]);
    full.clear();
    alike(&full, &Slot::EMPTY);
}

#[test]
fn of_a_receiver_the_octets_that_decide_what_comes_next_count() {
    let fed = |octets: &[u8]| {
        let mut receiver = Receiver::<_, 8>::new(Cobs);
        let _ = receiver.feed::<Fcs16>(at(1), octets);
        receiver
    };
    let found = |octets: &[u8]| {
        let mut receiver = fed(octets);
        receiver.found = Some(Found::Text(Span::new(0, 1)));
        receiver
    };
    let text = |octets: &[u8], found| {
        let mut receiver = fed(octets);
        receiver.reset();
        receiver.found = Some(found);
        receiver
    };
    differ(&[fed(&[]), fed(&[5]), fed(&[6]), fed(&[5, 5]), fed(&[0x80; 20]), found(&[5])]);
    let (span, class) = (Span::new(0, 1), Class::Errand);
    differ(&[
        text(b"a", Found::Text(span)),
        text(b"b", Found::Text(span)),
        text(b"a", Found::Statistics(span)),
        text(b"b", Found::Statistics(span)),
        text(b"a", Found::Message { class, number: 1, missed: 0, span }),
        text(b"b", Found::Message { class, number: 1, missed: 0, span }),
        text(b"a", Found::ProbeAnswer { id: 1, round_trip: super::super::apart::Apart(us(1)) }),
    ]);
    // Neither what lies in the buffer from before, nor when it came.
    let mut reset = fed(&[5, 5, 5]);
    reset.reset();
    alike(&reset, &fed(&[]));
    let mut later = Receiver::<_, 8>::new(Cobs);
    let _ = later.feed::<Fcs16>(at(2), &[5]);
    alike(&later, &fed(&[5]));
    let framings = [ControlMap::NONE, ControlMap::ALL].map(OctetStuffing::new);
    differ(&framings.map(Receiver::<_, 8>::new));
}

#[test]
fn of_an_inbox_what_waits_counts() {
    let holding = |number, octets: &[u8]| {
        let mut inbox = Inbox::<4, 3>::new();
        assert!(inbox.hold(number, at(1), octets));
        inbox
    };
    let body = |octets: &[u8]| {
        let mut inbox = Inbox::<4, 3>::new();
        assert!(inbox.keep_body(octets, &[]));
        inbox
    };
    differ(&[
        Inbox::<4, 3>::new(),
        holding(1, &[1]),
        holding(2, &[1]),
        holding(1, &[2]),
        body(&[1]),
        body(&[2]),
        body(&[]),
    ]);
    let mut sent = body(&[7]);
    assert_eq!(sent.body(), [7]);
    sent.drop_body();
    assert_eq!(sent.body(), []);
    alike(&sent, &Inbox::new());
    let mut again = holding(1, &[1]);
    again.clear();
    alike(&again, &Inbox::new());
    let mut kept = body(&[7]);
    kept.clear();
    alike(&kept, &body(&[7]));
}

#[test]
fn of_flights_those_in_the_window_count() {
    let launched = |count: u8, time_out| {
        let mut flights = Flights::<3>::new();
        for _ in 0..count {
            flights.launch(us(time_out));
        }
        flights
    };
    differ(&[launched(0, 5), launched(1, 5), launched(2, 5), launched(1, 6)]);
    let mut cleared = launched(3, 9);
    cleared.clear();
    alike(&cleared, &launched(0, 5));
}
