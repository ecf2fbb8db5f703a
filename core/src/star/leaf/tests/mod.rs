mod asleep;
mod joining;
mod property;
mod to_all;
mod world;

use super::*;
use crate::{
    framing::{Datagram, Lead},
    link::OwnNumber,
    star::{Answer, Told, Welcome},
};

const IDENTITY: u64 = 0xA57;
const LIFETIME: Duration = Duration::from_ticks(50_000);

pub(super) const fn at(us: u32) -> Instant {
    Instant::from_ticks(us)
}

/// A leaf on a radio without a keep-alive, whose time-outs have no random part: T_open is one second.
fn leaf(address: Address) -> Leaf<Datagram> {
    let link = crate::link::Config::datagram(0, LIFETIME, OwnNumber::Stored(0x2000));
    let keep_alive = Duration::from_ticks(0);
    let link = crate::link::Config { identity: IDENTITY, jitter_seed: 0, keep_alive, ..link };
    Leaf::new(Datagram, LeafConfig { awake: 300, ..LeafConfig::new(link, address) }, at(0))
}

/// The next frame without its FCS.
fn sends<F: Framing>(leaf: &mut Leaf<F>, now: Instant) -> Option<std::vec::Vec<u8>> {
    let mut out = [0; 80];
    let len = leaf.poll_transmit(now, &mut out)?;
    assert!(len > 2, "a frame that fits");
    Some(out[..len - 2].to_vec())
}

fn hears<F: Framing>(leaf: &mut Leaf<F>, now: Instant, wire: &[u8]) {
    let mut rest = wire;
    loop {
        let done = leaf.handle_octets(now, rest);
        rest = &rest[done..];
        if rest.is_empty() || leaf.has_event() {
            assert!(rest.is_empty(), "one frame");
            return;
        }
    }
}

fn welcome(identity: u64, answer: Answer) -> std::vec::Vec<u8> {
    let mut out = [0; 40];
    let len = Welcome { identity, answer }.write::<_, Fcs16>(&Datagram, Lead::Delimiter, &mut out);
    out[..len].to_vec()
}

/// What the hub of own number 0x1000 sends to leaf 7: a frame without addresses and FCS is given.
fn from_hub(frame: &[u8]) -> std::vec::Vec<u8> {
    to(7, frame)
}

fn to(address: u8, frame: &[u8]) -> std::vec::Vec<u8> {
    let at = if crate::frame::Kind::from_control(frame[0]).unwrap().in_session() { 3 } else { 1 };
    let (head, rest) = frame.split_at(at);
    let mut frame = [head, &[address, 0], rest].concat();
    frame[0] |= 0x10;
    let fcs = Fcs16::octets(Fcs16::update(Fcs16::INIT, &frame));
    frame.extend(&fcs[..2]);
    frame
}

/// Opens the session of a leaf with address 7; the session number is 0x3000.
fn open(leaf: &mut Leaf<Datagram>, now: Instant) {
    while sends(leaf, now).is_some() {}
    let open = crate::frame::Open {
        version: 1,
        ask: true,
        numberless: false,
        cause: crate::frame::ResetCause::Power,
        mine: 0x1000,
        echo: Some(leaf.own_number()),
        window: 1,
        max_payload: 48,
        fingerprint: 0,
        silence: 0,
        identity: 0xDE,
    };
    hears(leaf, now, &from_hub(&[&[0x20][..], &open.octets()].concat()));
    assert!(matches!(leaf.poll_event(), Some(LeafEvent::Link(crate::link::Event::Opened(_)))));
    while sends(leaf, now).is_some() {}
}

fn told(leaf: &mut Leaf<Datagram>, now: Instant, next: u8) {
    let told = Told { session: leaf.peer().unwrap().session, broadcast: 0x1_2345, next };
    let mut out = [0; 40];
    let len = told.write::<_, Fcs16>(&Datagram, 7, Lead::Delimiter, &mut out);
    hears(leaf, now, &out[..len]);
    assert!(leaf.is_told());
}
