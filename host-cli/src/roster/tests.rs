use super::*;
use crate::{
    endpoint::{FramingName, Wiring},
    report::Tracker,
    talk::codec,
};
use bellwire::{
    frame::{Addresses, Class, Extension, Header, Open},
    radio::Hearing,
};
use std::collections::BTreeMap as Map;

const SECOND: u64 = 1_000_000_000;
const START: u64 = 1_767_225_600 * SECOND;
const WIRING: Wiring = Wiring { framing: FramingName::Cobs, fcs: crate::endpoint::FcsName::Bits16, map: 0 };

/// A listener on a shared wire, where all frames come in.
struct Ear {
    tracker: Tracker,
    roster: Roster,
    at: u64,
}

impl Ear {
    fn new() -> Self {
        Self { tracker: Tracker::new(WIRING), roster: Roster::new(), at: START }
    }

    fn hears(&mut self, from: u8, to: u8, header: Header, payload: &[u8]) {
        self.at += SECOND;
        let codec = codec(WIRING);
        let header = Header { addresses: Some(Addresses { to, from }), ..header };
        let wire = codec.encode(&codec.frame(&header, payload));
        let Self { tracker, roster, at } = self;
        tracker.octets(Some(*at), 0, Direction::In, &wire, &mut |record| roster.record(&record));
    }

    fn report(&mut self, from: u8, number: u8, payload: &[u8]) {
        // The bits of the sessions below: 101 + 7 and 200 + 7.
        let session = if from == 3 { 0 } else { 3 };
        self.hears(from, 0, Header { number, session, ..Header::new(Class::Report.kind()) }, payload);
    }

    fn opens(&mut self, from: u8, to: u8, mine: u32, echo: Option<u32>, ask: bool, identity: u64) {
        let open = Open { mine, echo, ask, identity, ..OPEN };
        self.hears(from, to, Header::new(Kind::Open), &open.octets());
    }

    fn row(&self, leaf: u8) -> &Row {
        self.roster.rows().find(|(place, _)| *place == (0, Some(leaf))).map(|(_, row)| row).expect("listed")
    }
}

/// What all boards here state.
const OPEN: Open = Open {
    version: bellwire::frame::WIRE_VERSION,
    ask: true,
    numberless: false,
    cause: bellwire::frame::ResetCause::Power,
    mine: 0,
    echo: None,
    window: 1,
    max_payload: 32,
    fingerprint: 0,
    silence: 0,
    identity: 0,
};

fn hearing(sent: u16, heard: u16, age: Option<u8>) -> Vec<u8> {
    let hearing = Hearing { sent, heard, age, strength: age.map(|_| -88) };
    [&hearing.octets()[..], &[7, 0, 0]].concat()
}

/// Two leaves with sessions of their own on one wire: neither is taken for the other, and what each lost is counted by itself.
#[test]
fn leaves_are_told_apart_with_identity_session_and_losses() {
    let mut ear = Ear::new();
    for (leaf, mine) in [(3, 101), (4, 200)] {
        ear.opens(0, leaf, 7, None, true, 0xDE);
        ear.opens(leaf, 0, mine, Some(7), true, u64::from(leaf) << 8);
        ear.opens(0, leaf, 7, Some(mine), false, 0xDE);
    }
    for number in [0, 1, 4] {
        ear.report(3, number, &[7, 0, 0]);
    }
    ear.report(4, 0, &[7, 0, 0]);
    let (mast, porch) = (ear.row(3), ear.row(4));
    assert_eq!((mast.identities.as_slice(), mast.session, mast.lost_in()), (&[0x300][..], Some(108), 2));
    assert_eq!((porch.identities.as_slice(), porch.session, porch.lost_in()), (&[0x400][..], Some(207), 0));
    assert_eq!((mast.frames, mast.last), (4, Some(START + 9 * SECOND)));
    assert_eq!(mast.how(60_000), How::BothWays);
    assert_eq!(ear.tracker.sum().other_session, 0, "sessions of two leaves are not mixed up");
    let counts: Map<_, _> = ear.roster.rows().map(|(place, row)| (place.1, row.frames)).collect();
    assert_eq!(counts, Map::from([(Some(3), 4), (Some(4), 2)]));
}

#[test]
fn a_link_that_works_one_way_is_flagged() {
    let mut ear = Ear::new();
    ear.report(3, 0, &hearing(1, 0, None));
    assert_eq!(ear.row(3).how(60_000), How::OnlyFromIt, "it never heard the hub");
    ear.report(3, 1, &hearing(2, 1, Some(2)));
    let row = ear.row(3);
    assert_eq!((row.how(60_000), row.strength_out()), (How::BothWays, Some(-88)));
    assert_eq!(row.how(1_000), How::OnlyFromIt, "two seconds are too long");
    let now = ear.at + 120 * SECOND;
    ear.roster.until(now);
    assert_eq!(ear.row(3).how(60_000), How::Silent);
}

#[test]
fn who_is_asked_is_listed_and_two_boards_on_one_address_are_seen() {
    let mut ear = Ear::new();
    ear.roster.asks((0, Some(9)));
    assert_eq!((ear.row(9).how(1), ear.row(9).is_asked), (How::Never, true));
    let probe = Header { extension: Some(Extension::ProbeAnswer), ..Header::new(Kind::Extended) };
    ear.hears(9, 0, probe, &[1, 0]);
    assert_eq!(ear.row(9).how(60_000), How::BothWays);
    // JOIN by hand: identity 0x0102030405060708, address 9, awake 300 ms (W-60).
    for identity in [8, 9] {
        let join = [0xE0, 0x13, identity, 7, 6, 5, 4, 3, 2, 1, 9, 0x2C, 1];
        let codec = codec(WIRING);
        let fcs = crc::Crc::<u16>::new(&crc::CRC_16_IBM_SDLC).checksum(&join).to_le_bytes();
        let wire = codec.encode(&[&join[..], &fcs].concat());
        let Ear { tracker, roster, at } = &mut ear;
        tracker.octets(Some(*at), 0, Direction::In, &wire, &mut |record| roster.record(&record));
    }
    assert_eq!(ear.row(9).identities, [0x0102_0304_0506_0708, 0x0102_0304_0506_0709]);
}

/// What goes to all is nobody's row, and its numbers are one space: no set-point is missing for a notice between two of them.
#[test]
fn frames_to_all_share_their_numbers() {
    let mut ear = Ear::new();
    for (number, class) in
        [(0, Class::SetPoint), (1, Class::Notice), (2, Class::SetPoint), (4, Class::Notice)]
    {
        ear.hears(0, 255, Header { number, ..Header::new(class.kind()) }, &[9, 1]);
    }
    assert_eq!(ear.roster.rows().count(), 0);
    let sum = ear.tracker.sum();
    assert_eq!((sum.class(Class::SetPoint).missing, sum.class(Class::Notice).missing), (0, 1));
}
