//! A hub with all that stands on it (sleepers, roster, relay) among hostile leaves; the oracle: every accepted message has one outcome, nothing loops, and an honest leaf that
//! comes afterwards is served.

use bellwire::{
    fcs::{Fcs, Fcs16},
    frame::Class,
    framing::{Cobs, Datagram, Framing, Lead},
    link::{Config, Event, Link, Outcome, OwnNumber, State, When},
    star::{Addressed, Hub, HubConfig, Registrar, Relay, Roster, Sleepers, Speaks},
    time::{Duration, Instant},
};
use std::collections::BTreeSet;

/// The first octet chooses the medium; then operations of three octets, of which some take octets that follow.
///
/// # Panics
/// If a promise is broken.
pub fn hub(data: &[u8]) {
    let Some((choice, operations)) = data.split_first() else { return };
    if choice & 1 == 0 {
        Run::new(Cobs, HubConfig::wire(115_200, 0x1000)).all(operations);
    } else {
        Run::new(Datagram, HubConfig::datagram(5_000, Duration::from_ticks(LIFETIME), 0x1000))
            .all(operations);
    }
}

const LIFETIME: u32 = 40_000;
const HONEST: u8 = 1;
const SLEEPER: u8 = 3;

type Leaf<F> = Link<Addressed<F>, Fcs16, 64, 1, 4>;

struct Run<F: Framing> {
    now: u32,
    framing: F,
    hub: Hub<F, Fcs16, 4, 6, 64>,
    sleepers: Sleepers<1, 2, 16>,
    registrar: Registrar<4>,
    relay: Relay<2, 16>,
    leaf: Leaf<F>,
    starts: u32,
    /// Confirmed messages of ours without an outcome.
    open: BTreeSet<u16>,
    /// What passed between the hub and the honest leaf: errands that it got, outcomes and reports of it that the hub told.
    passed: [usize; 3],
}

impl<F: Framing> Run<F> {
    fn new(framing: F, config: HubConfig) -> Self {
        let now = Instant::from_ticks(0);
        let mut hub = Hub::new(framing.clone(), config, now);
        let mut sleepers = Sleepers::new();
        assert!(hub.admit(now, HONEST, Speaks::Hub) && hub.admit(now, 2, Speaks::Leaf));
        assert!(sleepers.admit(&mut hub, now, SLEEPER, Duration::from_millis(100)));
        let leaf = honest(&framing, 1, 0);
        let registrar = Registrar::new(Roster::new(20));
        let (open, relay) = (BTreeSet::new(), Relay::new());
        Self { now: 0, framing, hub, sleepers, registrar, relay, leaf, starts: 1, open, passed: [0; 3] }
    }

    fn now(&self) -> Instant {
        Instant::from_ticks(self.now)
    }

    fn all(mut self, operations: &[u8]) {
        let mut rest = operations;
        for _ in 0..200 {
            let Some((&[what, first, second], behind)) = rest.split_first_chunk::<3>() else { break };
            let (body, after) = behind.split_at(usize::from(second).min(behind.len()));
            rest = if what & 7 < 4 { after } else { behind };
            self.perform(what, first, second, body);
            self.settle();
        }
        self.heal();
    }

    fn perform(&mut self, what: u8, first: u8, second: u8, body: &[u8]) {
        let (now, today) = (self.now(), self.now / 1_000_000);
        let leaf = first & 7;
        match what & 7 {
            // Octets as they are, a frame of them with a good FCS, and one that claims to come from a leaf.
            0 => self.hears(body),
            1 => self.hears_frame(body),
            2 => {
                let mut frame = body.to_vec();
                if let Some(control) = frame.first_mut() {
                    *control |= 0x10;
                    let tagged = !F::ORDERED && (2..=6).contains(&(*control >> 5));
                    let at = if tagged { 3 } else { 1 };
                    if frame.len() >= at {
                        frame.splice(at..at, [0, leaf]);
                    }
                }
                self.hears_frame(&frame);
            }
            3 => {
                let class = Class::ALL[usize::from(first >> 3 & 3)];
                if let Ok(ticket) = self.hub.send(now, leaf, class, body)
                    && class.is_confirmed()
                {
                    assert!(self.open.insert(ticket.get()), "a ticket is given twice");
                }
                let _ = self.sleepers.send(&mut self.hub, leaf, class, body, today, u32::from(first >> 5));
            }
            4 => self.pass(u32::from(first) * u32::from(second) * 100),
            5 => {
                let speaks = [Speaks::Hub, Speaks::Leaf, Speaks::Sleeper][usize::from(second % 3)];
                self.hub.admit(now, leaf, speaks);
            }
            6 => {
                self.hub.dismiss(now, leaf);
            }
            _ => {
                self.hub.set_more(leaf, second & 1 == 1);
                self.hub.set_awake(now, leaf, Duration::from_ticks(u32::from(second) * 1_000));
                self.take_one_back(leaf);
                if second & 2 == 2 && self.leaf.state() == State::Up {
                    let to = [0xFE, 0x7F, 0, leaf, second, 5, second];
                    let _ = self.leaf.send(now, Class::Errand, &to);
                }
                self.hub.handle_unsent(now, usize::from(second));
            }
        }
    }

    /// A message that is sent and taken back has no outcome.
    fn take_one_back(&mut self, leaf: u8) {
        if let Ok(ticket) = self.hub.send(self.now(), leaf, Class::Errand, &[1]) {
            assert!(self.hub.is_waiting(leaf, ticket) && self.hub.take_back(leaf, ticket));
            assert!(!self.hub.is_waiting(leaf, ticket) && !self.hub.take_back(leaf, ticket));
        }
    }

    fn hears_frame(&mut self, frame: &[u8]) {
        let check = Fcs16::octets(Fcs16::update(Fcs16::INIT, frame));
        let mut out = vec![0; F::max_encoded_len(frame.len() + 2)];
        if let Ok(len) = self.framing.encode(&[frame, &check[..2]], Lead::Delimiter, &mut out) {
            self.hears(&out[..len]);
        }
    }

    fn hears(&mut self, octets: &[u8]) {
        let mut rest = octets;
        while !rest.is_empty() {
            let (now, today) = (self.now(), self.now / 1_000_000);
            let done = self.registrar.handle_octets(&mut self.hub, now, rest, today);
            assert!(done > 0 || self.hub.has_event(), "it takes nothing and says nothing");
            rest = &rest[done..];
            self.events();
        }
    }

    /// Drains events of the hub, and of what stands on it.
    fn events(&mut self) {
        let (now, today) = (self.now(), self.now / 1_000_000);
        for round in 0.. {
            assert!(round < 1_000, "events without end");
            let mut any = false;
            while let Some(told) = self.hub.poll_event() {
                any = true;
                let of_relay = self.relay.handle_event(&told);
                let of_letter = self.sleepers.handle_event(&told).is_some();
                match told.event {
                    Event::Outcome { ticket, outcome } => {
                        let ours = self.open.remove(&ticket.get());
                        assert!(
                            ours || of_relay || of_letter || told.leaf == Some(SLEEPER),
                            "an outcome of nothing"
                        );
                        let delivered = told.leaf == Some(HONEST) && outcome == Outcome::Delivered;
                        self.passed[1] += usize::from(delivered);
                    }
                    Event::Message(message) => {
                        let honest = told.leaf == Some(HONEST) && message.payload == b"\x09honest";
                        self.passed[2] += usize::from(honest);
                    }
                    _ => {}
                }
            }
            any |= self.registrar.poll(&mut self.hub, now, today).is_some();
            any |= self.sleepers.poll(&mut self.hub, now, today).is_some();
            self.relay.poll(&mut self.hub, now);
            if !any {
                return;
            }
        }
    }

    /// All that is to be done now: frames of the hub, which the honest leaf hears, and its answers.
    fn settle(&mut self) {
        let mut out = [0; 160];
        for round in 0.. {
            assert!(round < 2_000, "frames without end");
            let now = self.now();
            self.hub.handle_timeout(now);
            self.events();
            let sent = self.hub.poll_transmit(now, &mut out);
            if let Some(transmit) = sent {
                assert!(transmit.len > 0 && transmit.leaf <= 4, "{transmit:?}");
                self.leaf_hears(&out[..transmit.len]);
            }
            self.leaf.handle_timeout(now);
            self.leaf_events();
            let said = self.leaf.poll_transmit(now, &mut out);
            if let Some(len) = said {
                self.hears(&out[..len]);
            }
            if sent.is_none() && said.is_none() {
                break;
            }
        }
        let wake = self.hub.poll_wake();
        assert_ne!(wake.when, When::Now, "a busy loop: {wake:?}");
    }

    fn leaf_hears(&mut self, octets: &[u8]) {
        let mut rest = octets;
        while !rest.is_empty() {
            rest = &rest[self.leaf.handle_octets(self.now(), rest)..];
            self.leaf_events();
        }
    }

    fn leaf_events(&mut self) {
        while let Some(event) = self.leaf.poll_event() {
            if let Event::Message(message) = event {
                self.passed[0] += usize::from(message.payload == b"\x09honest");
            }
        }
    }

    /// Time passes, from one wake-up to the next.
    fn pass(&mut self, span: u32) {
        let end = self.now.wrapping_add(span);
        for _ in 0..500 {
            let left = |when| match when {
                When::Now => 0,
                When::At(at) => Instant::as_ticks(&at).wrapping_sub(self.now),
                When::Idle => u32::MAX,
            };
            let next = left(self.hub.poll_wake().when).min(left(self.leaf.poll_wake().when));
            let rest = end.wrapping_sub(self.now);
            self.now = self.now.wrapping_add(next.min(rest).max(1));
            self.settle();
            if next >= rest {
                return;
            }
        }
    }

    /// The hostile ones fall silent, and a new honest leaf comes.
    fn heal(&mut self) {
        for leaf in 2..=4 {
            self.hub.dismiss(self.now(), leaf);
            self.settle();
        }
        self.pass(LIFETIME * 3);
        self.hub.admit(self.now(), HONEST, Speaks::Hub);
        self.starts += 1;
        self.leaf = honest(&self.framing, self.starts, self.now);
        for _ in 0..40 {
            self.pass(1_000_000);
            if self.hub.session(HONEST).is_some()
                && self.hub.session(HONEST) == self.leaf.peer().map(|peer| peer.session)
            {
                break;
            }
        }
        assert_eq!(self.hub.session(HONEST), self.leaf.peer().map(|peer| peer.session), "it is not served");
        // What was under way has an outcome by now, or soon.
        self.pass(10_000_000);
        let before = self.passed;
        let ticket = self.hub.send(self.now(), HONEST, Class::Errand, b"\x09honest").expect("a session");
        self.open.insert(ticket.get());
        self.leaf.send(self.now(), Class::Report, b"\x09honest").expect("a session");
        self.settle();
        self.pass(10_000_000);
        let passed: Vec<_> = self.passed.iter().zip(before).map(|(now, before)| now - before).collect();
        assert_eq!(passed, [1, 1, 1], "an errand there, its outcome, a report back");
        self.hub.dismiss(self.now(), HONEST);
        self.settle();
        assert!(self.open.is_empty(), "without an outcome: {:?}", self.open);
    }
}

fn honest<F: Framing>(framing: &F, start: u32, now: u32) -> Leaf<F> {
    // Further on than the number of a life rises, by one with each session that ends (W-22).
    let own = OwnNumber::Stored(0x7000_0000 + start * 0x4000);
    let config = if F::ORDERED {
        Config::uart(115_200, own)
    } else {
        Config::datagram(5_000, Duration::from_ticks(LIFETIME), own)
    };
    Leaf::new(Addressed { framing: framing.clone(), own: HONEST, peer: 0 }, config, Instant::from_ticks(now))
}
