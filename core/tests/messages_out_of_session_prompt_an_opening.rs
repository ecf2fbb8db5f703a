//! W-27, W-32: a message that belongs to no open session makes a board ask its peer, seldom enough that nobody is kept busy by it.

mod common;

use bellwire::{
    frame::{Class, Reject},
    framing::Cobs,
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

/// W-30: one whose agreement differs is asked at the slowest pace, whatever it says.
#[test]
fn a_stranger_is_not_asked() {
    let configs = [(1_000, 1), (2_000, 2)].map(|(own, fingerprint)| Config { fingerprint, ..config(own) });
    let mut pair = Pair::<_, 1, 4>::new(Cobs, configs, 0);
    pair.run(20_000);
    assert!(pair.told(Who::Dome).iter().any(|told| matches!(told, Told::Mismatch(..))));
    assert_eq!(said(&mut pair, &notice(0)), []);
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
