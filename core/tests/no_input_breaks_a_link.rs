//! P7 and P9 of the design: whatever arrives, however it is cut, nothing panics, nothing spins, and an intact frame still counts.

#![allow(clippy::cast_possible_truncation)]

mod common;

use bellwire::{
    frame::{Class, Reject},
    framing::{Cobs, Datagram, Framing, OctetStuffing, Slip},
    link::{Config, Link, OwnNumber, When},
    stats::Counter,
    time::{Duration, Instant, after},
};
use common::{Pair, Told, Who, config};
use proptest::prelude::*;

/// Serves a link as the law asks; gives what was told and sent.
fn serve<F: Framing, const W: usize, const Q: usize>(
    link: &mut Link<F, bellwire::fcs::Fcs16, 64, W, Q>,
    now: Instant,
    mut octets: &[u8],
) -> (Vec<Told>, Vec<Vec<u8>>) {
    let (mut told, mut sent) = (vec![], vec![]);
    for _ in 0..10_000 {
        let done = link.handle_octets(now, octets);
        octets = &octets[done..];
        while let Some(event) = link.poll_event() {
            told.push(Told::from(event));
        }
        let mut out = [0; 200];
        while let Some(len) = link.poll_transmit(now, &mut out) {
            sent.push(out[..len].to_vec());
        }
        if octets.is_empty() {
            return (told, sent);
        }
    }
    panic!("spins");
}

/// What happens to a link.
#[derive(Debug, Clone)]
enum Act {
    Octets(Vec<u8>),
    /// A frame with a good FCS, otherwise random.
    Frame(Vec<u8>),
    Pass(u32),
    Send(usize, Vec<u8>),
    Probe(u16, Vec<u8>),
    Statistics,
    Unsent(usize),
    Close,
    Reopen,
}

fn act() -> impl Strategy<Value = Act> {
    let octets = || prop::collection::vec(any::<u8>(), 0..80);
    let low = prop::collection::vec(prop_oneof![0..4_u8, 0x20..0x50_u8, 0x40..0xE8_u8], 1..40);
    prop_oneof![
        2 => octets().prop_map(Act::Octets),
        6 => low.prop_map(Act::Frame),
        3 => prop_oneof![0..2_000_u32, 0..2_000_000_u32, any::<u32>()].prop_map(Act::Pass),
        4 => (0..4_usize, octets()).prop_map(|(class, payload)| Act::Send(class, payload)),
        1 => (any::<u16>(), octets()).prop_map(|(id, filling)| Act::Probe(id, filling)),
        1 => Just(Act::Statistics),
        1 => any::<usize>().prop_map(Act::Unsent),
        1 => Just(Act::Close),
        1 => Just(Act::Reopen),
    ]
}

fn wire<F: Framing>(framing: &F, frame: &[u8]) -> Vec<u8> {
    use bellwire::fcs::{Fcs, Fcs16};
    let fcs = Fcs16::octets(Fcs16::update(Fcs16::INIT, frame));
    let mut out = vec![0; F::max_encoded_len(frame.len() + 2)];
    let len = framing.encode(&[frame, &fcs[..2]], bellwire::framing::Lead::Delimiter, &mut out).unwrap();
    out.truncate(len);
    out
}

fn survive<F: Framing>(framing: F, config: Config, acts: Vec<Act>) {
    let mut now = Instant::from_ticks(u32::MAX - 1_000);
    let mut link = Link::<F, bellwire::fcs::Fcs16, 64, 3, 4>::new(framing.clone(), config, now);
    for act in acts {
        let mut octets = vec![];
        match act {
            Act::Octets(random) => octets = random,
            Act::Frame(frame) => octets = wire(&framing, &frame),
            Act::Pass(span) => now = after(now, Duration::from_ticks(span)),
            Act::Send(class, payload) => {
                let _ = link.send(now, Class::ALL[class], &payload);
            }
            Act::Probe(id, filling) => {
                let _ = link.probe(now, id, &filling);
            }
            Act::Statistics => link.ask_statistics(now),
            Act::Unsent(octets) => link.handle_unsent(now, octets),
            Act::Close => link.close(now),
            Act::Reopen => link.reopen(now),
        }
        let (_, sent) = serve(&mut link, now, &octets);
        assert!(sent.len() < 40, "one act makes {} frames", sent.len());
        link.handle_timeout(now);
        serve(&mut link, now, &[]);
        assert_ne!(link.poll_wake().when, When::Now, "{:?}", link.poll_wake());
    }
}

fn uart() -> Config {
    config(0x0101)
}

fn radio() -> Config {
    Config::datagram(2_000, Duration::from_ticks(50_000), OwnNumber::Random(3))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn nothing_panics_or_spins_cobs(acts in prop::collection::vec(act(), 1..60)) { survive(Cobs, uart(), acts); }

    #[test]
    fn nothing_panics_or_spins_stuffing(acts in prop::collection::vec(act(), 1..60)) {
        survive(OctetStuffing::default(), uart(), acts);
    }

    #[test]
    fn nothing_panics_or_spins_slip(acts in prop::collection::vec(act(), 1..60)) {
        survive(Slip, Config { own: OwnNumber::Numberless, ..uart() }, acts);
    }

    #[test]
    fn nothing_panics_or_spins_datagram(acts in prop::collection::vec(act(), 1..60)) { survive(Datagram, radio(), acts); }

    #[test]
    fn nothing_panics_or_spins_numberless(acts in prop::collection::vec(act(), 1..60)) {
        survive(Datagram, Config { own: OwnNumber::Numberless, ..radio() }, acts);
    }

    /// Any cut of a stream gives the same events, the same answers and the same link.
    #[test]
    fn any_cut_of_a_stream_is_alike(cuts in prop::collection::vec(1..30_usize, 1..100), noise in prop::collection::vec(any::<u8>(), 0..20)) {
        let mut pair = Pair::<_, 4, 8>::at(0);
        pair.run(20_000);
        let start = pair.links[1].clone();
        pair.forget();
        pair.line = Box::new(|_, _| vec![]);
        let mut stream = vec![];
        for (item, class) in Class::ALL.into_iter().enumerate() {
            pair.send(Who::Desk, class, &[9, item as u8, 0, 0]).unwrap();
        }
        for sent in &pair.sent {
            stream.extend_from_slice(&noise);
            stream.push(0);
            stream.extend_from_slice(&sent.wire);
        }
        let now = pair.instant();
        let mut whole = start.clone();
        let (told, sent) = serve(&mut whole, now, &stream);
        let messages = told.iter().filter(|told| matches!(told, Told::Message { .. })).count();
        prop_assert!(messages >= 4, "the next intact frame counts: {told:?}");
        let mut pieces = start;
        let (mut told_in_pieces, mut sent_in_pieces) = (vec![], vec![]);
        let mut rest = &stream[..];
        for cut in cuts.iter().cycle() {
            let (piece, later) = rest.split_at((*cut).min(rest.len()));
            rest = later;
            let (told, sent) = serve(&mut pieces, now, piece);
            told_in_pieces.extend(told);
            sent_in_pieces.extend(sent);
            if rest.is_empty() {
                break;
            }
        }
        prop_assert_eq!(told_in_pieces, told);
        prop_assert_eq!(sent_in_pieces, sent);
        prop_assert_eq!(pieces, whole);
    }
}

#[test]
fn foreign_text_is_told_and_counted_and_triggers_nothing() {
    let mut pair = Pair::<_, 1, 4>::opened();
    pair.feed(Who::Desk, b"\0login: \0");
    assert_eq!(pair.told(Who::Desk), [Told::Text(b"login: ".to_vec())]);
    assert_eq!(pair.links[0].statistics().get(Counter::TextOctets), 7);
    assert!(pair.sent.is_empty());
}

#[test]
fn every_reject_is_told_and_counted() {
    let mut pair = Pair::<_, 1, 4>::opened();
    for (octets, reject) in [
        (&b"\0\x09\x01\0"[..], Reject::BrokenCode),
        (b"\0\x05\xA3\x01\x02\x03\0", Reject::BadFcs),
        (b"\0\x02\x80\0", Reject::TooShort),
        (&[&[0][..], &[0xFF; 80], &[0]].concat(), Reject::TooLong),
    ] {
        let before = pair.links[0].statistics().rejects(reject);
        pair.feed(Who::Desk, octets);
        assert_eq!(pair.told(Who::Desk).last(), Some(&Told::Refused(reject)));
        assert_eq!(pair.links[0].statistics().rejects(reject), before + 1);
    }
    for (frame, reject) in [
        (&[0x53_u8, 0, 1, 9, 9][..], Reject::NotForUs),
        (&[0x43, 9, 9], Reject::OtherSession),
        (&[0x40, 9, 9], Reject::OutsideWindow),
        (&[0xA4, 1], Reject::BadAcknowledgement),
    ] {
        pair.feed(Who::Desk, &wire(&Cobs, frame));
        assert_eq!(pair.told(Who::Desk).last(), Some(&Told::Refused(reject)), "{frame:02X?}");
        assert_eq!(pair.links[0].statistics().rejects(reject), 1);
    }
    assert_eq!(pair.links[0].peer().map(|peer| peer.session & 3), Some(0), "the frames above rely on it");
}

#[test]
fn a_frame_that_breaks_two_rules_tells_both() {
    let mut pair = Pair::<_, 1, 4>::opened();
    // An errand outside the window that acknowledges what was never sent.
    pair.feed(Who::Desk, &wire(&Cobs, &[0x44, 1, 9, 9]));
    let wanted = [Reject::BadAcknowledgement, Reject::OutsideWindow].map(Told::Refused);
    assert_eq!(pair.told(Who::Desk), wanted);
}
