//! A desk with a roster and boards that come, clash, move and go.

use super::*;
use crate::{
    fcs::Fcs16,
    framing::Datagram,
    link::{Config, EndReason, Event, Link, OwnNumber},
    star::{Addressed, Answer, HubConfig, Join},
    time::Duration,
};
use std::{vec, vec::Vec};

type Desk = Hub<Datagram, Fcs16, 4, 8, 64>;
type Leaf = Link<Addressed<Datagram>, Fcs16, 64, 1, 4>;

fn at(now: u32) -> Instant {
    Instant::from_ticks(now)
}

struct Field {
    now: u32,
    today: Seconds,
    desk: Desk,
    registrar: Registrar<4>,
    events: Vec<RosterEvent>,
    ended: Vec<(u8, EndReason)>,
    welcomes: Vec<Welcome>,
    out: [u8; 80],
}

impl Field {
    fn new(expiry: Seconds) -> Self {
        let config = HubConfig::datagram(0, Duration::from_millis(20), 0x1000);
        Self {
            now: 0,
            today: 0,
            desk: Desk::new(Datagram, config, at(0)),
            registrar: Registrar::new(Roster::new(expiry)),
            events: vec![],
            ended: vec![],
            welcomes: vec![],
            out: [0; 80],
        }
    }

    /// Events and frames of the desk; what is for a leaf is handed to those that are at its address.
    fn serve(&mut self, leaves: &mut [&mut Leaf]) {
        self.desk.handle_timeout(at(self.now));
        loop {
            while let Some(told) = self.desk.poll_event() {
                if let Event::Ended(reason) = told.event {
                    self.ended.push((told.leaf.unwrap(), reason));
                }
            }
            let Some(event) = self.registrar.poll(&mut self.desk, at(self.now), self.today) else { break };
            self.events.push(event);
        }
        while let Some(transmit) = self.desk.poll_transmit(at(self.now), &mut self.out) {
            let frame = &self.out[..transmit.len];
            if transmit.leaf == 0 {
                assert_eq!(frame[..2], [0xE0, 0x14]);
                self.welcomes.extend(Welcome::parse(&frame[2..frame.len() - 2]));
            }
            for leaf in leaves.iter_mut() {
                let _ = leaf.handle_octets(at(self.now), frame);
                while leaf.poll_event().is_some() {}
            }
        }
    }

    fn hears(&mut self, frame: &[u8]) {
        let done = self.registrar.handle_octets(&mut self.desk, at(self.now), frame, self.today);
        assert_eq!(done, frame.len());
    }

    fn join(&mut self, identity: u64, wanted: u8, awake: u16) -> Answer {
        let mut out = [0; 80];
        let lead = crate::framing::Lead::Delimiter;
        let len = Join { identity, wanted, awake }.write::<_, Fcs16>(&Datagram, lead, &mut out);
        self.hears(&out[..len]);
        self.serve(&mut []);
        let welcome = self.welcomes.pop().expect("an answer");
        assert_eq!((welcome.identity, self.welcomes.len()), (identity, 0));
        welcome.answer
    }

    fn leaf(&self, own: u8, identity: u64) -> Leaf {
        let number = OwnNumber::Stored(0x9000 + u32::try_from(identity).unwrap() * 16);
        let config = Config { identity, ..Config::datagram(0, Duration::from_millis(20), number) };
        Leaf::new(Addressed { framing: Datagram, own, peer: 0 }, config, at(self.now))
    }

    /// Passes a while in which these boards and the desk talk.
    fn talk(&mut self, span: u32, leaves: &mut [&mut Leaf]) {
        let until = self.now + span;
        while self.now < until {
            self.now += 1_000;
            self.serve(leaves);
            for place in 0..leaves.len() {
                leaves[place].handle_timeout(at(self.now));
                while leaves[place].poll_event().is_some() {}
                let mut out = [0; 80];
                while let Some(len) = leaves[place].poll_transmit(at(self.now), &mut out) {
                    self.hears(&out[..len]);
                    self.serve(leaves);
                }
            }
        }
    }
}

#[test]
fn a_board_joins_is_admitted_and_moves() {
    let mut field = Field::new(0);
    assert_eq!(field.join(0xA57, 0, 0), Answer::Seated(1));
    let mut mast = field.leaf(1, 0xA57);
    field.talk(200_000, &mut [&mut mast]);
    assert!(field.desk.session(1).is_some());
    assert_eq!(field.join(0xA57, 3, 500), Answer::Seated(3), "by hand now, and it sleeps");
    assert_eq!(field.ended, [(1, EndReason::Closed)]);
    let joined = |seated, awake| RosterEvent::Joined { seated, identity: 0xA57, awake };
    assert_eq!(field.events, [joined(Seated::New(1), 0), joined(Seated::Moved { from: 1, to: 3 }, 500)]);
    assert_eq!(field.join(0xF0, 9, 0), Answer::Impossible);
    assert_eq!(field.join(0, 0, 0), Answer::Impossible);
    assert_eq!(
        field.events[2..],
        [
            RosterEvent::Refused { identity: 0xF0, why: NotSeated::NoSuchAddress },
            RosterEvent::Refused { identity: 0, why: NotSeated::NoIdentity },
        ]
    );
    for (identity, address) in [(11, 1), (12, 2), (13, 4)] {
        assert_eq!(field.join(identity, 0, 0), Answer::Seated(address));
    }
    assert_eq!(field.join(14, 0, 0), Answer::Full);
    assert_eq!(field.join(0xA57, 0, 500), Answer::Seated(3), "it asks again");
}

#[test]
fn two_boards_on_one_address_are_named_and_the_second_does_not_break_in() {
    let mut field = Field::new(0);
    field.desk.admit(at(0), 2, Speaks::Hub);
    let mut first = field.leaf(2, 0xF0);
    field.talk(200_000, &mut [&mut first]);
    let session = field.desk.session(2);
    assert!(session.is_some());
    assert_eq!(field.events, [RosterEvent::Joined { seated: Seated::New(2), identity: 0xF0, awake: 0 }]);
    field.events.clear();
    // A second board, with its switches at the same address. It hears what is for the first, and talks.
    let mut second = field.leaf(2, 0xF1);
    field.talk(20_000_000, &mut [&mut first, &mut second]);
    let clash = Clash { address: 2, seated: 0xF0, came: 0xF1 };
    assert_eq!(field.events, [RosterEvent::Clash(clash)], "once, however often it asks");
    assert_eq!(field.desk.session(2), session, "the session of the first goes on");
    assert_eq!(first.peer().map(|peer| peer.session), session);
    assert!(field.ended.is_empty());
    assert_eq!(field.join(0xF1, 2, 0), Answer::Held(0xF0));
    assert_eq!(field.events[1..], [RosterEvent::Clash(clash)]);
}

#[test]
fn who_is_not_heard_expires_and_leaves_the_address_to_another() {
    let mut field = Field::new(60);
    assert_eq!(field.join(7, 0, 0), Answer::Seated(1));
    let mut leaf = field.leaf(1, 7);
    field.talk(300_000, &mut [&mut leaf]);
    // Every frame of it counts, not the opening only.
    field.today = 40;
    field.talk(3_000_000, &mut [&mut leaf]);
    field.today = 99;
    field.serve(&mut []);
    assert!(field.registrar.roster().seat(1).is_some_and(|seat| seat.heard == 40));
    field.events.clear();
    field.today = 100;
    (0..4).for_each(|_| field.serve(&mut []));
    let seat = Seat { identity: 7, fixed: false, heard: 40 };
    assert_eq!(field.events, [RosterEvent::Expired { leaf: 1, seat }]);
    assert_eq!((field.desk.session(1), &field.ended[..]), (None, &[(1, EndReason::Closed)][..]));
    assert_eq!(field.join(8, 0, 0), Answer::Seated(1));
}
