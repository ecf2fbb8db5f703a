//! W-48 and W-30: probes and statistics in every state, at most one answer each per T_min; agreements that differ.

mod common;

use bellwire::{
    fcs::Fcs16,
    frame::{Class, Kind, Read, Reader, Reject},
    framing::Cobs,
    link::{Config, EndReason, Event, Link, SendError, State, Terms},
    stats::Counter,
};
use common::{Pair, Told, Who, config};

#[test]
fn a_probe_is_answered_in_every_state_with_its_body_and_its_round_trip() {
    let mut pair = Pair::<_, 1, 4>::opened();
    for down in [false, true] {
        if down {
            let now = pair.instant();
            pair.link(Who::Dome).close(now);
            pair.drain(Who::Dome);
        }
        pair.forget();
        let now = pair.instant();
        pair.link(Who::Desk).probe(now, 0xBEEF, &[0x55; 40]).unwrap();
        pair.run(30_000);
        let octets = 2 + 2 + 40 + 2 + 3;
        let line = octets * 1_000_000 / 11_520;
        let Told::ProbeAnswer { id: 0xBEEF, round_trip } = pair.told(Who::Desk)[0] else {
            panic!("{:?}", pair.told)
        };
        assert!(u64::from(round_trip).abs_diff(line) <= 200, "{round_trip} is not {line}");
    }
}

#[test]
fn a_probe_and_its_answer_carry_the_same_octets() {
    let mut pair = Pair::<_, 1, 4>::opened();
    let filling: Vec<u8> = (1..=40).collect();
    let now = pair.instant();
    pair.link(Who::Desk).probe(now, 0xBEEF, &filling).unwrap();
    pair.run(30_000);
    let mut bodies = vec![];
    for sent in pair.sent.iter().filter(|sent| sent.kind == Kind::Extended) {
        let mut reader = Reader::<_, Fcs16, 64>::new(Cobs);
        let (_, read) = reader.feed(&sent.wire);
        let Some(Read::Frame(view)) = read else { panic!("{read:?}") };
        bodies.push((sent.from, view.payload.to_vec()));
    }
    let body = [&[0xEF, 0xBE][..], &filling].concat();
    assert_eq!(bodies, [(Who::Desk, body.clone()), (Who::Dome, body)]);
}

#[test]
fn at_most_one_answer_of_each_kind_is_given_per_t_min() {
    let mut pair = Pair::<_, 1, 4>::opened();
    for _ in 0..100 {
        let now = pair.instant();
        pair.link(Who::Desk).probe(now, 1, &[]).unwrap();
        pair.link(Who::Desk).ask_statistics(now);
        pair.run(1_000);
    }
    let answers =
        pair.sent.iter().filter(|sent| sent.from == Who::Dome && sent.kind == Kind::Extended).count();
    // T_min is the time of two OPENs: 2 x 32 octets, 5.6 ms; of each kind one at once and then one in each.
    assert!((2 * 15..=2 * 19).contains(&answers), "{answers}");
}

#[test]
fn a_probe_has_limits() {
    let mut link: Link = Link::new(Cobs, config(1), bellwire::time::Instant::from_ticks(0));
    let now = bellwire::time::Instant::from_ticks(0);
    assert_eq!(link.probe(now, 1, &[0; 57]), Err(SendError::TooLong { limit: 56 }));
    link.probe(now, 1, &[0; 56]).unwrap();
    assert_eq!(link.probe(now, 2, &[]), Err(SendError::QueueFull));
}

#[test]
fn the_peer_tells_its_counters_as_many_as_fit() {
    let mut pair = Pair::<_, 1, 4>::opened();
    pair.send(Who::Dome, Class::Report, &[3]).unwrap();
    pair.run(100_000);
    let now = pair.instant();
    // The answer is read by hand: events of the harness do not keep counters.
    let mut desk = pair.links[0].clone();
    let mut dome = pair.links[1].clone();
    desk.ask_statistics(now);
    let (mut out, mut back) = ([0; 100], [0; 200]);
    let len = desk.poll_transmit(now, &mut out).unwrap();
    assert_eq!(dome.handle_octets(now, &out[..len]), len);
    let len = dome.poll_transmit(now, &mut back).unwrap();
    let wanted = *dome.statistics();
    assert_eq!(desk.handle_octets(now, &back[..len]), len);
    let Some(Event::PeerStatistics(counters)) = desk.poll_event() else { panic!() };
    assert_eq!(counters.get(Counter::Sessions), Some(1));
    assert_eq!(counters.get(Counter::FramesReceived), Some(wanted.get(Counter::FramesReceived)));
    assert_eq!(counters.get(Counter::TextOctets), Some(0), "the eleventh of 48 octets");
    assert_eq!(counters.get(Counter::Delivered), None, "the twelfth did not fit");
}

#[test]
fn boards_that_differ_stay_down_and_both_are_told_once() {
    let of = |own: u32, fingerprint| Config { fingerprint, ..config(own) };
    let mut pair = Pair::<_, 1, 4>::new(Cobs, [of(1_000, 7), of(2_000, 8)], 0);
    pair.run(10_000_000);
    let terms = |fingerprint, identity| Terms { version: 1, fingerprint, identity };
    assert_eq!(pair.told(Who::Desk), [Told::Mismatch(terms(7, 1_000), terms(8, 2_000))]);
    assert_eq!(pair.told(Who::Dome), [Told::Mismatch(terms(8, 2_000), terms(7, 1_000))]);
    assert!(pair.links.iter().all(|link| link.state() == State::Down));
    assert!(pair.sent.len() < 60, "at the slowest pace: {}", pair.sent.len());
    assert!(pair.sent.len() > 8, "but they keep asking");

    // The dome is made anew with the right agreement.
    let mut right = Pair::<_, 1, 4>::new(Cobs, [of(1_000, 7), of(3_000, 7)], 0);
    std::mem::swap(&mut right.links[0], &mut pair.links[0]);
    right.now = pair.now;
    let now = right.instant();
    right.links[1] = Link::new(Cobs, of(3_000, 7), now);
    right.run(1_000_000);
    assert!(right.is_up());
}

#[test]
fn no_agreement_matches_any() {
    let of = |own: u32, fingerprint| Config { fingerprint, ..config(own) };
    for fingerprints in [[0, 0], [0, 8], [7, 0], [7, 7]] {
        let mut pair =
            Pair::<_, 1, 4>::new(Cobs, [of(1_000, fingerprints[0]), of(2_000, fingerprints[1])], 0);
        pair.run(20_000);
        assert!(pair.is_up(), "{fingerprints:?}");
    }
}

#[test]
fn a_peer_that_comes_back_with_another_agreement_ends_the_session() {
    let of = |own: u32, fingerprint| Config { fingerprint, ..config(own) };
    let mut pair = Pair::<_, 1, 4>::new(Cobs, [of(1_000, 7), of(2_000, 7)], 0);
    pair.run(20_000);
    pair.forget();
    let now = pair.instant();
    pair.links[1] = Link::new(Cobs, of(3_000, 8), now);
    pair.run(3_000_000);
    let told = pair.told(Who::Desk);
    assert_eq!(told[0], Told::Ended(EndReason::Mismatch));
    assert!(matches!(told[1], Told::Mismatch(..)));
    assert_eq!(told.len(), 2);
    assert_eq!(pair.links[0].statistics().rejects(Reject::OtherVersion), 0);
}
