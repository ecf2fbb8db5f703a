//! W-27, W-30, W-32: a message that belongs to no open session makes a board ask its peer, seldom enough that nobody is kept busy by it.

mod common;

use bellwire::{
    fcs::Fcs16,
    frame::{Ack, Class, Header, Kind, Reject, write},
    framing::{Cobs, Lead},
    link::Config,
};
use common::{Pair, Sent, Told, Who, config};

/// T_min and T_open of this line, µs: 2 and 4 OPEN frames of 32 octets at 11 520 octets a second, and at least 5 and 50 ms.
const T_MIN: u64 = 2 * (32 * 1_000_000_u64).div_ceil(11_520);
const T_OPEN: u64 = 50_000;

/// A notice of a session with this number, modulo 4.
fn notice(session: u32) -> Vec<u8> {
    let mut pair = Pair::<_, 1, 4>::new(Cobs, [config(4_000 + session), config(8_000)], 0);
    pair.run(20_000);
    pair.forget();
    pair.send(Who::Desk, Class::Notice, &[5]).unwrap();
    pair.sent[0].wire.clone()
}

/// A dome that hears nobody: its desk's frames are lost, and so are its own.
fn lonely() -> Pair<Cobs, 1, 4> {
    let mut pair = Pair::<_, 1, 4>::at(0);
    pair.line = Box::new(|_, _| vec![]);
    pair.drain(Who::Dome);
    assert_eq!(pair.sent.len(), 1, "it asks once at its start");
    pair
}

/// What the dome sends when it hears these octets now.
fn said(pair: &mut Pair<Cobs, 1, 4>, octets: &[u8]) -> Vec<Sent> {
    let before = pair.sent.len();
    pair.feed(Who::Dome, octets);
    pair.sent[before..].to_vec()
}

fn passes(pair: &mut Pair<Cobs, 1, 4>, span: u64) {
    let before = pair.sent.len();
    pair.run(span);
    assert!(pair.sent[before..].iter().all(|sent| sent.from == Who::Desk), "{:?}", &pair.sent[before..]);
}

#[test]
fn before_a_session_it_asks_at_most_once_in_t_min() {
    let (mut pair, notice) = (lonely(), notice(0));
    passes(&mut pair, 10_000);
    let prompted = said(&mut pair, &notice);
    assert!(prompted.len() == 1 && prompted[0].ask, "{prompted:?}");
    assert_eq!(said(&mut pair, &notice), []);
    passes(&mut pair, T_MIN - 1);
    assert_eq!(said(&mut pair, &notice), []);
    passes(&mut pair, 1);
    assert_eq!(said(&mut pair, &notice).len(), 1);
    assert_eq!(pair.told(Who::Dome), vec![Told::Refused(Reject::NotOpen); 4]);
    assert_eq!(pair.links[1].statistics().rejects(Reject::NotOpen), 4);
}

#[test]
fn a_closed_board_does_not_ask() {
    let (mut pair, notice) = (lonely(), notice(0));
    passes(&mut pair, 10_000);
    let now = pair.instant();
    pair.link(Who::Dome).close(now);
    assert_eq!(said(&mut pair, &notice), []);
    assert_eq!(pair.told(Who::Dome), [Told::Refused(Reject::NotOpen)]);
}

/// A dome that has heard a desk of another agreement, which falls silent then; and when it heard it.
fn estranged() -> (Pair<Cobs, 1, 4>, u64) {
    let configs = [(1_000, 1), (2_000, 2)].map(|(own, fingerprint)| Config { fingerprint, ..config(own) });
    let mut pair = Pair::<_, 1, 4>::new(Cobs, configs, 0);
    let mut first = true;
    pair.line = Box::new(move |_, sent| {
        let passes = sent.from == Who::Desk && std::mem::take(&mut first);
        if passes { vec![0] } else { vec![] }
    });
    pair.run(20_000);
    let (heard, _) =
        *pair.told[Who::Dome as usize].iter().find(|(_, told)| matches!(told, Told::Mismatch(..))).unwrap();
    (pair, heard)
}

fn asked(pair: &Pair<Cobs, 1, 4>) -> Vec<u64> {
    pair.sent.iter().filter(|sent| sent.from == Who::Dome && sent.ask).map(|sent| sent.at).collect()
}

/// W-30: one whose agreement differs is answered, and asked at the slowest pace: 1 s on a wire.
#[test]
fn a_stranger_is_asked_once_a_second_from_the_last_that_was_heard() {
    let (mut pair, heard) = estranged();
    let answer = pair.sent.iter().rfind(|sent| sent.from == Who::Dome).unwrap();
    assert_eq!((answer.at, answer.ask), (heard, false));
    pair.forget();
    pair.run(2_500_000);
    // The second counts from the end of the first asking, of 32 octets.
    let frame = (32 * 1_000_000_u64).div_ceil(11_520);
    assert_eq!(asked(&pair), [heard + 1_000_000, heard + 2_000_000 + frame]);
}

#[test]
fn a_stranger_is_asked_no_faster_whatever_it_says() {
    let (mut pair, heard) = estranged();
    pair.forget();
    for _ in 0..100 {
        assert_eq!(said(&mut pair, &notice(0)), []);
        pair.run(20_000);
    }
    assert_eq!(asked(&pair)[0], heard + 1_000_000);
    assert_eq!(asked(&pair).len(), 1 + usize::from(pair.now > heard + 2_002_778));
}

#[test]
fn one_of_another_session_makes_it_ask_at_most_once_in_t_open() {
    let mut pair = Pair::<_, 1, 4>::opened();
    for session in 1..4 {
        let notice = notice(session);
        pair.forget();
        let prompted = said(&mut pair, &notice);
        assert!(prompted.len() == 1 && prompted[0].ask, "{prompted:?}");
        assert_eq!(said(&mut pair, &notice), []);
        passes(&mut pair, T_OPEN - 1);
        assert_eq!(said(&mut pair, &notice), []);
        pair.run(1);
        assert_eq!(said(&mut pair, &notice).len(), 1);
        assert_eq!(pair.told(Who::Dome), vec![Told::Refused(Reject::OtherSession); 4]);
        pair.run(T_OPEN);
        assert!(pair.is_up(), "the answer shows that nothing has changed");
    }
    pair.forget();
    assert_eq!(said(&mut pair, &notice(0)), []);
    assert!(matches!(pair.told(Who::Dome)[..], [Told::Message { .. }]), "of the same number: it is given");
}

/// What is owed stays owed when something comes that needs no answer.
#[test]
fn an_opening_that_asks_for_nothing_does_not_take_back_the_question() {
    let mut pair = Pair::<_, 1, 4>::at(0);
    pair.run(20_000);
    let opening = pair.sent.iter().rfind(|sent| sent.from == Who::Desk && sent.kind == Kind::Open).unwrap();
    assert!(!opening.ask);
    let frames = [notice(1), opening.wire.clone()];
    pair.forget();
    let now = pair.instant();
    for frame in frames {
        let frame = [&[0], &frame[..]].concat();
        let link = pair.link(Who::Dome);
        let mut rest = &frame[..];
        while !rest.is_empty() {
            rest = &rest[link.handle_octets(now, rest)..];
            while link.poll_event().is_some() {}
        }
    }
    pair.drain(Who::Dome);
    assert!(pair.sent.len() == 1 && pair.sent[0].ask, "{:?}", pair.sent);
}

/// W-32: nothing in a frame of another session counts.
#[test]
fn an_acknowledgement_of_another_session_settles_nothing() {
    let mut pair = Pair::<_, 1, 4>::opened();
    pair.line = Box::new(|_, _| vec![]);
    pair.send(Who::Dome, Class::Errand, &[9, 1]).unwrap();
    for session in 0..4 {
        let mut header = Header::new(Kind::Ack);
        header.session = session;
        header.ack = Some(Ack { next: 1, held: None });
        let mut wire = [0; 20];
        let len = write::<_, Fcs16>(&Cobs, &header, &[], Lead::Delimiter, &mut wire).unwrap();
        // The session of 1 000 and 2 000 has the bits 0: kept for the end.
        if session != 0 {
            pair.feed(Who::Dome, &wire[..len]);
            assert_eq!(pair.outcomes(Who::Dome), []);
        }
    }
    assert_eq!(pair.links[1].statistics().rejects(Reject::OtherSession), 3);
}
