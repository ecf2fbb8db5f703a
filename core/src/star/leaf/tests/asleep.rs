//! A leaf that sleeps deeply, with a real hub: it goes on at its address and in its session.

use std::vec::Vec;

use super::*;
use crate::{
    link::{Event, NotResumed, Outcome, StaysAwake},
    star::{Asleep, BroadcastSender, Hub, HubConfig, Registrar, Roster, RosterEvent, Speaks},
};

/// A desk with a roster, and the mast.
struct Star {
    now: u32,
    desk: Hub<Datagram, Fcs16, 8, 16, 64>,
    registrar: Registrar<8>,
    roster: Vec<RosterEvent>,
    mast: Leaf<Datagram>,
    /// What the desk heard, and what became of what the mast sent.
    heard: Vec<u8>,
    outcomes: Vec<Outcome>,
}

fn config(address: Address) -> LeafConfig {
    let link = crate::link::Config::datagram(0, LIFETIME, OwnNumber::Stored(0x2000));
    let link = crate::link::Config {
        identity: IDENTITY,
        jitter_seed: 0,
        keep_alive: Duration::from_ticks(0),
        ..link
    };
    LeafConfig { awake: 300, ..LeafConfig::new(link, address) }
}

impl Star {
    fn new(address: Address) -> Self {
        let mut hub = HubConfig::datagram(0, LIFETIME, 0x1000);
        hub.keep_alive = Duration::from_ticks(0);
        let mut star = Self {
            now: 0,
            desk: Hub::new(Datagram, hub, at(0)),
            registrar: Registrar::new(Roster::new(0)),
            roster: Vec::new(),
            mast: Leaf::new(Datagram, config(address), at(0)),
            heard: Vec::new(),
            outcomes: Vec::new(),
        };
        if let Address::Known(leaf) = address {
            assert!(star.desk.admit(at(0), leaf, Speaks::Leaf));
        }
        star.run(400);
        assert!(star.mast.peer().is_some(), "open");
        star
    }

    /// So many steps of 5 ms on a good line. Gives how many frames the mast and the desk sent.
    fn run(&mut self, steps: u32) -> (usize, usize) {
        let (mut of_mast, mut of_desk) = (0, 0);
        let mut out = [0; 160];
        for _ in 0..steps {
            self.now += 5_000;
            self.mast.handle_timeout(at(self.now));
            self.desk.handle_timeout(at(self.now));
            self.drain();
            while let Some(len) = self.mast.poll_transmit(at(self.now), &mut out) {
                of_mast += 1;
                let _ = self.registrar.handle_octets(&mut self.desk, at(self.now), &out[..len], 0);
                self.drain();
            }
            while let Some(sent) = self.desk.poll_transmit(at(self.now), &mut out) {
                of_desk += 1;
                let _ = self.mast.handle_octets(at(self.now), &out[..sent.len]);
                self.drain();
            }
        }
        (of_mast, of_desk)
    }

    fn drain(&mut self) {
        while let Some(event) = self.mast.poll_event() {
            if let LeafEvent::Link(Event::Outcome { outcome, .. }) = event {
                self.outcomes.push(outcome);
            }
        }
        loop {
            while let Some(event) = self.desk.poll_event() {
                if let Event::Message(message) = event.event {
                    self.heard.extend_from_slice(message.payload);
                }
            }
            let Some(event) = self.registrar.poll(&mut self.desk, at(self.now), 0) else { break };
            self.roster.push(event);
        }
    }

    fn sleep(&mut self, address: Address) -> Asleep {
        let asleep = self.mast.fall_asleep(at(self.now)).unwrap();
        self.drain();
        assert_eq!(self.mast.poll_wake().when, crate::link::When::Idle);
        self.now += 600_000_000;
        self.mast =
            Leaf::resume(Datagram, config(address), &asleep, Duration::from_ticks(600_000_000), at(self.now))
                .unwrap();
        asleep
    }
}

#[test]
fn a_leaf_goes_on_at_its_address_in_its_session() {
    let mut star = Star::new(Address::Asked);
    let before = star.mast.peer().unwrap().session;
    for night in 1..=3 {
        let asleep = star.sleep(Address::Asked);
        assert_eq!((asleep.address, asleep.unconfirmed), (1, 0));
        assert_eq!(star.mast.address(), Some(1));
        star.mast.send(at(star.now), Class::Report, &[7, night]).unwrap();
        assert_eq!(star.run(50), (1, 1), "a report and its acknowledgement");
        assert_eq!(star.heard.split_off(0), [7, night]);
        assert_eq!(star.outcomes.split_off(0), [Outcome::Delivered]);
    }
    assert_eq!(star.desk.session(1), Some(before));
}

#[test]
fn a_hub_that_has_lost_its_session_is_noticed_and_a_session_opens() {
    let mut star = Star::new(Address::Asked);
    star.sleep(Address::Asked);
    let mut hub = HubConfig::datagram(0, LIFETIME, 0x1100);
    hub.keep_alive = Duration::from_ticks(0);
    star.desk = Hub::new(Datagram, hub, at(star.now));
    star.registrar = Registrar::new(Roster::new(0));
    star.roster.clear();
    star.mast.send(at(star.now), Class::Report, &[7, 1]).unwrap();
    star.run(400);
    assert_eq!(star.outcomes, [Outcome::Unknown], "it was sent to a hub that knows of no session");
    let [RosterEvent::Unseated { leaf: 1 }, RosterEvent::Joined { identity: IDENTITY, .. }, again] =
        star.roster[..]
    else {
        panic!("{:?}", star.roster)
    };
    assert!(
        matches!(again, RosterEvent::Joined { awake: 300, .. }),
        "it asks whether its address holds, and says that it sleeps"
    );
    star.mast.send(at(star.now), Class::Report, &[7, 2]).unwrap();
    star.run(50);
    assert_eq!((&star.heard[..], star.outcomes[1]), (&[7, 2][..], Outcome::Delivered));
}

#[test]
fn what_goes_to_all_is_taken_again_once_the_hub_has_told() {
    let mut star = Star::new(Address::Known(1));
    star.sleep(Address::Known(1));
    let mut all = BroadcastSender::<16, 2>::new(0x1000, LIFETIME);
    all.send(Class::SetPoint, &[4, 10]).unwrap();
    let mut out = [0; 80];
    let len = all.poll_transmit::<_, Fcs16>(&Datagram, Lead::Delimiter, &mut out).unwrap();
    hears(&mut star.mast, at(star.now), &out[..len]);
    while let Some(event) = star.mast.poll_event() {
        assert!(!matches!(event, LeafEvent::ToAll(_)), "which frames are this hub's own is not known");
    }
    let asks = sends(&mut star.mast, at(star.now)).unwrap();
    assert_eq!(asks, [0xF0, 0, 1, 0x17], "an empty TO ALL");
    let told = all.tell(star.desk.session(1).unwrap());
    let len = told.write::<_, Fcs16>(&Datagram, 1, Lead::Delimiter, &mut out);
    hears(&mut star.mast, at(star.now), &out[..len]);
    assert!(star.mast.is_told());
}

#[test]
fn a_leaf_that_has_nothing_to_keep_says_so() {
    let mut asking = leaf(Address::Asked);
    assert_eq!(asking.fall_asleep(at(0)), Err(StaysAwake::NotOpen));
    let mut seated = leaf(Address::Known(7));
    assert_eq!(seated.fall_asleep(at(0)), Err(StaysAwake::NotOpen));
    let mut impossible = leaf(Address::Known(251));
    assert_eq!(impossible.fall_asleep(at(0)), Err(StaysAwake::Untold));
}

#[test]
fn a_leaf_goes_on_at_its_own_address_only() {
    let mut star = Star::new(Address::Wanted(5));
    let asleep = star.mast.fall_asleep(at(star.now)).unwrap();
    let resume = |how, asleep: &Asleep, slept| {
        Leaf::<Datagram>::resume(Datagram, config(how), asleep, slept, at(0)).map(|leaf| leaf.address())
    };
    assert_eq!(resume(Address::Wanted(5), &asleep, LIFETIME), Ok(Some(5)));
    assert_eq!(resume(Address::Known(5), &asleep, LIFETIME), Ok(Some(5)));
    assert_eq!(resume(Address::Asked, &asleep, LIFETIME), Ok(Some(5)));
    let soon = LIFETIME - Duration::from_ticks(1);
    assert_eq!(resume(Address::Asked, &asleep, soon), Err(NotResumed::TooSoon));
    for other in [Address::Wanted(6), Address::Known(6), Address::Known(0)] {
        assert_eq!(resume(other, &asleep, LIFETIME), Err(NotResumed::Address), "{other:?}");
    }
    let of_a_link = Asleep { address: 0, ..asleep };
    assert_eq!(resume(Address::Asked, &of_a_link, LIFETIME), Err(NotResumed::Address));
}
