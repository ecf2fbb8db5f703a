//! A leaf that hears hostile octets, joins, opens, sleeps and goes on; the oracle: every accepted message has one outcome, nothing loops, and an honest hub that comes
//! afterwards serves it.

use bellwire::{
    fcs::{Fcs, Fcs16},
    frame::Class,
    framing::{Cobs, Datagram, Framing, Lead},
    link::{Config, Event, Outcome, OwnNumber, SendError, When},
    star::{
        Address, Asleep, BroadcastSender, Hub, HubConfig, Leaf, LeafConfig, LeafEvent, Registrar, Roster,
        Speaks,
    },
    time::{Duration, Instant},
};
use std::collections::BTreeSet;

/// The first octet chooses the medium and where the address comes from; then operations of three octets, of which some take octets that follow.
///
/// # Panics
/// If a promise is broken.
pub fn leaf(data: &[u8]) {
    let Some((choice, operations)) = data.split_first() else { return };
    let address =
        [Address::Known(OWN), Address::Wanted(OWN), Address::Asked][usize::from(choice >> 1 & 3) % 3];
    if choice & 1 == 0 {
        Run::new(Cobs, address).all(operations);
    } else {
        Run::new(Datagram, address).all(operations);
    }
}

const LIFETIME: u32 = 40_000;
const OWN: u8 = 2;
const HONEST: &[u8] = b"\x09honest";

struct Run<F: Framing> {
    now: u32,
    framing: F,
    address: Address,
    leaf: Leaf<F>,
    starts: u32,
    /// The honest hub, while it is there.
    desk: Option<(Hub<F, Fcs16, 4, 6, 64>, Registrar<4>)>,
    /// Confirmed messages of the leaf without an outcome.
    open: BTreeSet<u16>,
    /// What passed between the leaf and the honest hub: reports that the hub told, their outcomes, errands and set-points to all that the leaf told.
    passed: [usize; 4],
}

fn config<F: Framing>(address: Address, start: u32) -> LeafConfig {
    // Further on than the number of a life rises, by one with each session that ends (W-22).
    let own = OwnNumber::Stored(0x7000_0000 + start * 0x1000);
    let link = if F::ORDERED {
        Config::uart(115_200, own)
    } else {
        Config::datagram(5_000, Duration::from_ticks(LIFETIME), own)
    };
    let link = Config { identity: 0xA57, keep_alive: Duration::from_ticks(0), ..link };
    LeafConfig::new(link, address)
}

impl<F: Framing> Run<F> {
    fn new(framing: F, address: Address) -> Self {
        let leaf = Leaf::new(framing.clone(), config::<F>(address, 1), Instant::from_ticks(0));
        let (open, passed) = (BTreeSet::new(), [0; 4]);
        Self { now: 0, framing, address, leaf, starts: 1, desk: None, open, passed }
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
        match what & 7 {
            // Octets as they are, a frame of them with a good FCS, and one that claims to come from the hub.
            0 => self.hears(body),
            1 => self.hears_frame(body),
            2 => {
                let mut frame = body.to_vec();
                if let Some(control) = frame.first_mut() {
                    *control |= 0x10;
                    let tagged = !F::ORDERED && (2..=6).contains(&(*control >> 5));
                    let at = if tagged { 3 } else { 1 };
                    let to = if first & 1 == 0 { OWN } else { 255 };
                    if frame.len() >= at {
                        frame.splice(at..at, [to, 0]);
                    }
                }
                self.hears_frame(&frame);
            }
            3 => self.send(Class::ALL[usize::from(first & 3)], body),
            4 => self.pass(u32::from(first) * u32::from(second) * 100),
            5 => self.sleep(u32::from(first) * u32::from(second) * 100),
            6 => match first & 3 {
                0 => self.leaf.close(self.now()),
                1 => self.leaf.reopen(self.now()),
                2 => self.start_desk(),
                _ => self.desk = None,
            },
            _ => {
                let now = self.now();
                let _ = self.leaf.probe(now, first.into(), &[second]);
                self.leaf.ask_statistics(now);
                self.leaf.handle_unsent(now, second.into());
                let _ = self.leaf.take_given();
            }
        }
    }

    fn send(&mut self, class: Class, body: &[u8]) {
        let sent = self.leaf.send(self.now(), class, body);
        match sent {
            Ok(ticket) if class.is_confirmed() => {
                assert!(self.open.insert(ticket.get()), "a ticket is given twice")
            }
            Ok(_) => {}
            Err(SendError::NotOpen) => assert!(self.leaf.peer().is_none(), "it is open"),
            Err(_) => {}
        }
    }

    /// It falls asleep, if it can, and a new life goes on from what was kept.
    fn sleep(&mut self, slept: u32) {
        let Ok(asleep) = self.leaf.fall_asleep(self.now()) else { return };
        self.events();
        assert!(self.open.is_empty(), "it sleeps and leaves messages without an outcome: {:?}", self.open);
        assert_eq!(self.leaf.poll_transmit(self.now(), &mut [0; 160]), None, "it talks in its sleep");
        let mut kept = asleep.octets().expect("a window of one");
        assert_eq!(Asleep::take(&mut kept), Some(asleep));
        self.now = self.now.wrapping_add(slept);
        let config = config::<F>(self.address, self.starts);
        let slept = Duration::from_ticks(slept);
        match Leaf::resume(self.framing.clone(), config, &asleep, slept, self.now()) {
            Ok(leaf) => self.leaf = leaf,
            Err(_) => self.restart(),
        }
    }

    fn restart(&mut self) {
        self.starts += 1;
        self.open.clear();
        self.leaf = Leaf::new(self.framing.clone(), config::<F>(self.address, self.starts), self.now());
    }

    fn start_desk(&mut self) {
        let now = self.now();
        let own = 0x1000 + self.now;
        let config = if F::ORDERED {
            HubConfig::wire(115_200, own)
        } else {
            HubConfig::datagram(5_000, Duration::from_ticks(LIFETIME), own)
        };
        let mut hub = Hub::new(self.framing.clone(), config, now);
        if matches!(self.address, Address::Known(_)) {
            assert!(hub.admit(now, OWN, Speaks::Leaf));
        }
        self.desk = Some((hub, Registrar::new(Roster::new(0))));
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
            let done = self.leaf.handle_octets(self.now(), rest);
            assert!(done > 0 || self.leaf.has_event(), "it takes nothing and says nothing");
            rest = &rest[done..];
            self.events();
        }
    }

    fn events(&mut self) {
        for round in 0.. {
            assert!(round < 1_000, "events without end");
            match self.leaf.poll_event() {
                None => break,
                Some(LeafEvent::Link(Event::Outcome { ticket, outcome })) => {
                    assert!(self.open.remove(&ticket.get()), "an outcome of nothing");
                    self.passed[1] += usize::from(outcome == Outcome::Delivered);
                }
                Some(LeafEvent::Link(Event::Message(message))) => {
                    self.passed[2] += usize::from(message.payload == HONEST);
                }
                Some(LeafEvent::ToAll(message)) => self.passed[3] += usize::from(message.payload == HONEST),
                Some(LeafEvent::Joined(own)) => {
                    assert_eq!(self.leaf.address(), Some(own));
                    assert!(self.address == Address::Asked || own == OWN, "an address that it did not want");
                }
                Some(_) => {}
            }
        }
    }

    fn desk_events(&mut self) {
        let now = self.now();
        let Some((hub, registrar)) = &mut self.desk else { return };
        loop {
            while let Some(told) = hub.poll_event() {
                if let Event::Message(message) = told.event {
                    self.passed[0] += usize::from(message.payload == HONEST);
                }
            }
            if registrar.poll(hub, now, 0).is_none() {
                return;
            }
        }
    }

    /// All that is to be done now.
    fn settle(&mut self) {
        let mut out = [0; 160];
        for round in 0.. {
            assert!(round < 2_000, "frames without end");
            let now = self.now();
            self.leaf.handle_timeout(now);
            self.events();
            // As much room as it asks for: then every frame fits.
            let said = self.leaf.poll_transmit(now, &mut out[..Leaf::<F>::max_transmit()]);
            if let Some(len) = said {
                assert!(len > 0, "a frame that does not fit");
                self.desk_hears(&out[..len]);
            }
            let answer = self.desk.as_mut().and_then(|(hub, _)| {
                hub.handle_timeout(now);
                hub.poll_transmit(now, &mut out)
            });
            self.desk_events();
            if let Some(transmit) = answer {
                self.hears(&out[..transmit.len]);
            }
            if said.is_none() && answer.is_none() {
                break;
            }
        }
        let wake = self.leaf.poll_wake();
        assert_ne!(wake.when, When::Now, "a busy loop: {wake:?}");
    }

    fn desk_hears(&mut self, octets: &[u8]) {
        let mut rest = octets;
        while !rest.is_empty() {
            let now = self.now();
            let Some((hub, registrar)) = &mut self.desk else { return };
            rest = &rest[registrar.handle_octets(hub, now, rest, 0)..];
            self.desk_events();
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
            let of_desk = self.desk.as_ref().map_or(When::Idle, |(hub, _)| hub.poll_wake().when);
            let next = left(self.leaf.poll_wake().when).min(left(of_desk));
            let rest = end.wrapping_sub(self.now);
            self.now = self.now.wrapping_add(next.min(rest).max(1));
            self.settle();
            if next >= rest {
                return;
            }
        }
    }

    /// The hostile ones fall silent; the leaf starts anew, and an honest hub is there.
    fn heal(&mut self) {
        self.restart();
        self.start_desk();
        for _ in 0..120 {
            self.pass(1_000_000);
            let known = self.desk.as_ref().zip(self.leaf.address());
            let session = known.and_then(|((hub, _), own)| hub.session(own));
            if session.is_some() && session == self.leaf.peer().map(|peer| peer.session) {
                return self.serve();
            }
        }
        panic!("it is not served: {:?} {:?}", self.leaf.address(), self.leaf.peer());
    }

    /// A report, an errand and a set-point to all arrive, and again after a sleep.
    fn serve(&mut self) {
        self.pass(10_000_000);
        for night in 0..2 {
            let before = self.passed;
            let own = self.leaf.address().expect("it is seated");
            self.send(Class::Report, HONEST);
            let now = self.now();
            let (hub, _) = self.desk.as_mut().expect("it is there");
            hub.send(now, own, Class::Errand, HONEST).expect("a session");
            self.pass(10_000_000);
            self.hear_all(own);
            let passed: Vec<_> = self.passed.iter().zip(before).map(|(now, before)| now - before).collect();
            assert_eq!(
                passed,
                [1, 1, 1, 1],
                "night {night}: a report, its outcome, an errand, a set-point to all"
            );
            assert!(self.open.is_empty(), "without an outcome: {:?}", self.open);
            let session = self.leaf.peer().map(|peer| peer.session);
            self.sleep(LIFETIME);
            self.settle();
            assert_eq!(self.leaf.peer().map(|peer| peer.session), session, "it goes on in its session");
        }
    }

    fn hear_all(&mut self, own: u8) {
        let lifetime = Duration::from_ticks(if F::ORDERED { 0 } else { LIFETIME });
        let mut all = BroadcastSender::<16, 2>::new(self.now, lifetime);
        let session = self.leaf.peer().expect("open").session;
        let mut out = [0; 80];
        let told = all.tell(session);
        let len = told.write::<_, Fcs16>(&self.framing, own, Lead::Delimiter, &mut out);
        self.hears(&out[..len]);
        all.send(Class::SetPoint, HONEST).expect("room");
        let len = all.poll_transmit::<_, Fcs16>(&self.framing, Lead::Delimiter, &mut out).expect("a frame");
        self.hears(&out[..len]);
    }
}
