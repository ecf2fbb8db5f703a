//! What goes to all, and the hub's other frames that are no link's, against the words of W-58, W-61, W-62 and W-70.

use super::*;
use crate::{
    frame::Reject,
    framing::Cobs,
    link::{Event, WakeReason, When},
    star::BroadcastSender,
    stats::Counter,
};
use std::vec::Vec;

fn leaf_7() -> Leaf<Datagram> {
    let mut leaf = leaf(Address::Known(7));
    open(&mut leaf, at(0));
    leaf
}

fn to_all(hub: &mut BroadcastSender<16, 4>, class: Class, payload: &[u8]) -> Vec<u8> {
    hub.send(class, payload).unwrap();
    let mut out = [0; 40];
    let len = hub.poll_transmit::<_, Fcs16>(&Datagram, Lead::Delimiter, &mut out).unwrap();
    out[..len].to_vec()
}

fn refused(leaf: &mut Leaf<Datagram>, reject: Reject) {
    assert_eq!(leaf.poll_event(), Some(LeafEvent::Link(Event::Refused(reject))));
    assert_eq!(leaf.poll_event(), None);
}

#[test]
fn a_frame_to_all_is_told_with_its_arrival_and_what_was_lost_before_it() {
    let mut leaf = leaf_7();
    let mut hub = BroadcastSender::new(0x1_2345, LIFETIME);
    told(&mut leaf, at(10), 0);
    let frames: Vec<_> = (0..3).map(|value| to_all(&mut hub, Class::SetPoint, &[4, value])).collect();
    hears(&mut leaf, at(20), &frames[0]);
    assert_eq!(leaf.handle_octets(at(20), &frames[2]), 0, "nothing before the event is taken");
    let Some(LeafEvent::ToAll(message)) = leaf.poll_event() else { panic!() };
    assert_eq!((message.payload, message.arrived, message.missed), (&[4, 0][..], at(20), 0));
    assert_eq!((message.class, message.message.get(), message.number), (Class::SetPoint, 4, 0));
    hears(&mut leaf, at(30), &frames[2]);
    let event = leaf.poll_event().unwrap();
    let Some(Event::Message(message)) = event.of_link() else { panic!() };
    assert_eq!((message.payload, message.missed), (&[4, 2][..], 1));
    for late in [&frames[1], &frames[2]] {
        hears(&mut leaf, at(40), late);
        refused(&mut leaf, Reject::StaleSetPoint);
    }
    hears(&mut leaf, at(50), &to_all(&mut hub, Class::Notice, &[8]));
    assert!(matches!(leaf.poll_event(), Some(LeafEvent::ToAll(message)) if message.class == Class::Notice));
    assert_eq!(leaf.statistics().get(Counter::SetPointsLost), 1);
}

#[test]
fn without_a_session_or_untold_nothing_is_taken_and_the_hub_is_asked_once_in_t_open() {
    let mut leaf = leaf(Address::Known(7));
    let mut hub = BroadcastSender::new(0x1_2345, LIFETIME);
    let frame = to_all(&mut hub, Class::SetPoint, &[4, 1]);
    hears(&mut leaf, at(0), &frame);
    refused(&mut leaf, Reject::NotOpen);
    open(&mut leaf, at(0));
    for now in [1, 2] {
        hears(&mut leaf, at(now), &frame);
        refused(&mut leaf, Reject::OtherSession);
    }
    assert_eq!((leaf.poll_wake().when, leaf.poll_wake().reason), (When::Now, WakeReason::ToAll));
    assert_eq!(
        sends(&mut leaf, at(2)),
        Some(std::vec![0xF0, 0, 7, 0x17]),
        "TO ALL, empty, from 7 to the hub"
    );
    assert_eq!(sends(&mut leaf, at(2)), None);
    hears(&mut leaf, at(3), &frame);
    refused(&mut leaf, Reject::OtherSession);
    assert_eq!(leaf.poll_wake().when, When::At(at(1_000_002)), "T_open after the first");
    let own = leaf.peer().unwrap().session;
    for session in [own + 1, own] {
        let mut out = [0; 40];
        let len =
            Told { session, ..hub.tell(own) }.write::<_, Fcs16>(&Datagram, 7, Lead::Delimiter, &mut out);
        hears(&mut leaf, at(4), &out[..len]);
        assert_eq!((leaf.is_told(), leaf.has_event()), (session == own, false));
    }
    hears(&mut leaf, at(5), &frame);
    refused(&mut leaf, Reject::OutsideWindow);
    hears(&mut leaf, at(6), &to_all(&mut hub, Class::SetPoint, &[4, 2]));
    assert!(matches!(leaf.poll_event(), Some(LeafEvent::ToAll(message)) if message.payload == [4, 2]));
}

/// What was heard in a session is not told after its end.
#[test]
fn a_message_that_waits_when_the_session_ends_is_dropped() {
    let mut leaf = leaf_7();
    told(&mut leaf, at(0), 0);
    hears(&mut leaf, at(1), &to_all(&mut BroadcastSender::new(0x1_2345, LIFETIME), Class::Notice, &[8]));
    leaf.close(at(2));
    assert!(matches!(leaf.poll_event(), Some(LeafEvent::Link(Event::Ended(_)))));
    assert_eq!(leaf.poll_event(), None);
    assert!(!leaf.is_told());
}

#[test]
fn frames_of_others_are_skipped_and_wrong_bodies_refused() {
    let mut leaf = leaf_7();
    let skipped: [&[u8]; 5] = [
        &to(3, &[0xE0, 0x15]),
        &to(255, &[0xE0, 0x15]),
        &to(255, &[0x61, 0, 12, 0, 5]),
        &[&[0xE0, 0x13][..], &[0; 11], &[0x5A, 0x10]].concat(),
        &from_hub(&[0xE0, 0x15]),
    ];
    for frame in skipped {
        let _ = leaf.handle_octets(at(1), frame);
        assert!(
            !matches!(leaf.poll_event(), Some(LeafEvent::ToAll(_) | LeafEvent::Joined(_))),
            "{frame:02x?}"
        );
    }
    while leaf.poll_event().is_some() {}
    for body in [&[0xE0, 0x17][..], &[0xE0, 0x17, 1, 2, 3, 4, 5, 6, 7, 8], &[0xE0, 0x15, 0]] {
        hears(&mut leaf, at(2), &from_hub(body));
        refused(&mut leaf, Reject::BadLength);
    }
    for (body, reject) in
        [(&[0xE0, 0x18][..], Reject::UnknownExtension), (&[0xE0, 0xFF], Reject::ReservedKind)]
    {
        hears(&mut leaf, at(3), &from_hub(body));
        refused(&mut leaf, reject);
    }
}

/// W-58: a frame of the hub to this leaf gives it the turn, one to all or to another does not; who has nothing to say sends TURN.
#[test]
fn a_frame_to_this_leaf_gives_it_the_turn() {
    let mut leaf = leaf_7();
    let _ = leaf.take_given();
    told(&mut leaf, at(0), 0);
    assert!(leaf.take_given() && !leaf.take_given());
    hears(&mut leaf, at(1), &to_all(&mut BroadcastSender::new(0x1_2345, LIFETIME), Class::Notice, &[8]));
    while leaf.poll_event().is_some() {}
    hears(&mut leaf, at(2), &to(3, &[0xE0, 0x15]));
    assert!(!leaf.take_given());
    hears(&mut leaf, at(3), &from_hub(&[0xE0, 0x15]));
    assert!(leaf.take_given() && !leaf.has_event());
    let mut out = [0; 40];
    let len = leaf.poll_turn(at(4), &mut out);
    assert_eq!(out[..len - 2], [0xF0, 0, 7, 0x15]);
    leaf.send(at(5), Class::Report, &[7, 1]).unwrap();
    let len = leaf.poll_turn(at(5), &mut out);
    assert_eq!((out[0] >> 5, len), (3, 10), "the report");
}

/// W-61: bit 7 of *held*, in this session only.
#[test]
fn more_waits_as_long_as_the_hub_says_so() {
    let mut leaf = leaf_7();
    let session = leaf.peer().unwrap().session;
    let ack = |session: u32, held: Option<u8>| {
        let control = 0xA4 + if held.is_some() { 4 } else { 0 } + (session & 3) as u8;
        let tag = u16::try_from(session >> 2).unwrap().to_le_bytes();
        from_hub(&[&[control, tag[0], tag[1], 0][..], held.as_slice()].concat())
    };
    for (session, held, more) in [
        (session, Some(0x80), true),
        (session + 4, None, true),
        (session, None, false),
        (session, Some(0x80), true),
        (session, Some(0), false),
    ] {
        hears(&mut leaf, at(1), &ack(session, held));
        while leaf.poll_event().is_some() {}
        assert_eq!(leaf.more_waits(), more, "{held:?}");
    }
}

/// On a stream, frames to all between those of others, cut anywhere, and equal leaves stay equal.
#[test]
fn on_a_stream_any_cut_finds_the_same() {
    let config = crate::link::Config::uart(115_200, OwnNumber::Stored(0x2000));
    let mut leaf = Leaf::<Cobs>::new(Cobs, LeafConfig::new(config, Address::Known(7)), at(0));
    let open = crate::frame::Open {
        version: 1,
        ask: false,
        numberless: false,
        cause: crate::frame::ResetCause::Power,
        mine: 0x1000,
        echo: Some(0x2000),
        window: 1,
        max_payload: 48,
        fingerprint: 0,
        silence: 0,
        identity: 0xDE,
    };
    let put = |frame: Vec<u8>| {
        let mut out = [0; 80];
        let len = Cobs.encode(&[&frame], Lead::Delimiter, &mut out).unwrap();
        out[..len].to_vec()
    };
    let mut hub = BroadcastSender::<16, 4>::new(0x1_2345, Duration::from_ticks(0));
    let told = [&[0xE0, 0x17][..], &hub.tell(0x3000).octets()].concat();
    let mut wire = [put(from_hub(&[&[0x20][..], &open.octets()].concat())), put(from_hub(&told))].concat();
    for value in 0..3 {
        hub.send(Class::SetPoint, &[4, value]).unwrap();
        let mut out = [0; 40];
        let len = hub.poll_transmit::<_, Fcs16>(&Cobs, Lead::Delimiter, &mut out).unwrap();
        wire.extend(&out[..len]);
        wire.extend(put(to(3, &[0xE0, 0x15])));
    }
    let heard = |cut: usize| {
        let (mut leaf, mut values) = (leaf.clone(), Vec::new());
        for mut piece in [&wire[..cut], &wire[cut..]] {
            while !piece.is_empty() {
                piece = &piece[leaf.handle_octets(at(9), piece)..];
                while let Some(event) = leaf.poll_event() {
                    if let LeafEvent::ToAll(message) = event {
                        values.push(message.payload[1]);
                    }
                }
            }
        }
        (leaf, values)
    };
    let (whole, _) = heard(0);
    assert_eq!(whole.statistics().get(Counter::FramesReceived), 5, "OPEN, TO ALL, and three to all");
    for cut in 0..wire.len() {
        let (leaf, values) = heard(cut);
        assert_eq!(values, [0, 1, 2], "cut at {cut}");
        assert_eq!(leaf, whole, "cut at {cut}");
    }
    leaf.close(at(0));
    assert_ne!(leaf, whole);
}
