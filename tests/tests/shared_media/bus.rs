//! A saturated bus: a hub and ten leaves that have links of their own, over addressed frames, COBS and the 16-bit FCS, at 115 200 Bd, the *turn* rule in virtual time.

use bellwire::{
    fcs::{Fcs, Fcs16},
    frame::Class,
    framing::{Cobs, Framing as _, Lead},
    link::{Config, Event, Link, Outcome, OwnNumber, State},
    star::{Access as _, Addressed, Give, Hub, HubConfig, May, Speaks, Timing, Turn, TurnTaken},
    time::{Duration, Instant},
};

type Leaf = Link<Addressed<Cobs>, Fcs16, 64, 1, 4>;
type Desk = Hub<Cobs, Fcs16, { LEAVES as usize }, 16, 64>;

const LEAVES: u8 = 10;
const PAYLOAD: usize = 48;
const GAP: u64 = 200;
/// What goes over the wire of a bare acknowledgement and of a report with 48 octets: control 1, addresses 2, *next* or number 1, payload, FCS 2, COBS 1, delimiters 2.
const ACK: u64 = 9;
const REPORT: u64 = 57;

/// The time of so many octets of 10 bits, whole us.
fn octets(count: u64) -> u64 {
    (count * 10_000_000).div_ceil(115_200)
}

fn us(ticks: u64) -> Duration {
    Duration::from_ticks(u32::try_from(ticks).expect("a short span"))
}

fn at(now: u64) -> Instant {
    Instant::from_ticks(u32::try_from(now).expect("within an hour"))
}

/// The turn, with nothing to say: extension 0x15 (W-58), which a link skips (W-19).
fn bare_turn(to: u8, from: u8) -> Vec<u8> {
    let frame = [0xF0, to, from, 0x15];
    let fcs = Fcs16::octets(Fcs16::update(Fcs16::INIT, &frame));
    let mut out = [0; 16];
    let len = Cobs.encode(&[&frame, &fcs[..2]], Lead::Delimiter, &mut out).expect("room");
    out[..len].to_vec()
}

fn leaf(own: u8) -> Leaf {
    let number = OwnNumber::Stored(16 * u32::from(own));
    Link::new(Addressed { framing: Cobs, own, peer: 0 }, Config::uart(115_200, number), at(0))
}

fn desk() -> Desk {
    let mut hub = Hub::new(Cobs, HubConfig::wire(115_200, 0x1000), at(0));
    (1..=LEAVES).for_each(|leaf| assert!(hub.admit(at(0), leaf, Speaks::Hub)));
    hub
}

#[derive(Debug, Default, Clone, Copy)]
struct Books {
    sent: u64,
    delivered: u64,
    arrived: u64,
    resent: u64,
}

impl Books {
    fn enter(&mut self, event: &Event<'_>) {
        match event {
            Event::Message(message) => {
                assert_eq!(message.payload.len(), PAYLOAD);
                self.arrived += 1;
            }
            Event::Outcome { outcome, .. } => {
                assert_eq!(*outcome, Outcome::Delivered);
                self.delivered += 1;
            }
            Event::Resent { .. } => self.resent += 1,
            _ => {}
        }
    }
}

/// A leaf hears a frame; what it brings is entered.
fn leaf_hears(link: &mut Leaf, now: u64, wire: &[u8], books: &mut Books) {
    let mut rest = wire;
    while !rest.is_empty() {
        rest = &rest[link.handle_octets(at(now), rest)..];
        while let Some(event) = link.poll_event() {
            books.enter(&event);
        }
    }
}

/// So does the hub.
fn hub_hears(hub: &mut Desk, now: u64, wire: &[u8], books: &mut Books) {
    let mut rest = wire;
    while !rest.is_empty() {
        rest = &rest[hub.handle_octets(at(now), rest)..];
        while let Some(told) = hub.poll_event() {
            books.enter(&told.event);
        }
    }
}

struct Run {
    now: u64,
    turn: Turn<{ LEAVES as usize }>,
    timing: Timing,
    hub: Desk,
    leaves: Vec<Leaf>,
    books: Books,
    gave: u64,
}

impl Run {
    fn new() -> Self {
        let timing =
            Timing { turnaround: us(GAP), reply: us(2_000), longest: us(octets(80)), passed_over: 8 };
        let mut turn = Turn::new(timing);
        (1..=LEAVES).for_each(|leaf| assert!(turn.set_present(leaf, true)));
        let leaves = (1..=LEAVES).map(leaf).collect();
        Self { now: 0, turn, timing, hub: desk(), leaves, books: Books::default(), gave: 0 }
    }

    fn step(&mut self) {
        match self.turn.poll() {
            Give::Nobody => panic!("there are leaves"),
            Give::Wait(left) => {
                self.turn.elapse(left);
                self.now += u64::from(left.as_ticks());
            }
            Give::To(leaf) => self.one_turn(leaf),
        }
    }

    /// What the hub says to the leaf that it gives the turn.
    fn query(&mut self, leaf: u8) -> Vec<u8> {
        let mut out = [0; 80];
        self.hub.handle_timeout(at(self.now));
        while self.hub.poll_event().is_some() {}
        match self.hub.poll_transmit_to(at(self.now), leaf, &mut out) {
            Some(transmit) => out[..transmit.len].to_vec(),
            None => bare_turn(leaf, 0),
        }
    }

    fn one_turn(&mut self, leaf: u8) {
        self.gave += 1;
        let place = usize::from(leaf) - 1;
        let query = self.query(leaf);
        let span = octets(query.len() as u64);
        self.turn.gave(us(span));
        self.now += span;
        // Everybody on the wire hears it.
        for link in &mut self.leaves {
            leaf_hears(link, self.now, &query, &mut self.books);
        }
        let mut access = TurnTaken::new(self.timing);
        access.given();
        access.elapse(us(GAP));
        assert_eq!(access.may_send(), May::Now);
        self.now += GAP;
        let link = &mut self.leaves[place];
        link.handle_timeout(at(self.now));
        while link.poll_event().is_some() {}
        while link.state() == State::Up && link.send(at(self.now), Class::Report, &[7; PAYLOAD]).is_ok() {
            self.books.sent += 1;
        }
        let mut out = [0; 80];
        let reply = match link.poll_transmit(at(self.now), &mut out) {
            Some(len) => out[..len].to_vec(),
            None => bare_turn(0, leaf),
        };
        let reply_span = octets(reply.len() as u64);
        self.now += reply_span;
        self.turn.elapse(us(span + GAP));
        self.turn.heard();
        self.turn.elapse(us(reply_span));
        assert!(self.turn.replied(leaf), "in time");
        hub_hears(&mut self.hub, self.now, &reply, &mut self.books);
        for link in &mut self.leaves {
            leaf_hears(link, self.now, &reply, &mut self.books);
        }
    }
}

#[test]
fn a_saturated_bus_of_ten_leaves_gives_what_the_cycle_formula_says() {
    let mut run = Run::new();
    while run.now < 2_000_000 {
        run.step();
    }
    assert!((1..=LEAVES).all(|leaf| run.hub.state(leaf) == State::Up), "all open within 2 s");
    assert!(run.leaves.iter().all(|link| link.state() == State::Up));
    let (before, begun, gave) = (run.books, run.now, run.gave);
    while run.now < 62_000_000 {
        run.step();
    }
    #[allow(clippy::cast_precision_loss)]
    let rate = |octets: u64, time: u64| octets as f64 * 1e6 / time as f64;
    let measured = rate((run.books.arrived - before.arrived) * PAYLOAD as u64, run.now - begun);
    let formula = rate(PAYLOAD as u64, octets(ACK) + octets(REPORT) + 2 * GAP);
    println!(
        "ten leaves, one minute: {} turns, {measured:.0} payload octets a second; formula {formula:.0}; {:.2} %; {} resent",
        run.gave - gave,
        100.0 * measured / formula,
        run.books.resent - before.resent
    );
    assert!(measured >= 0.97 * formula && measured <= 1.001 * formula, "{measured} of {formula}");
    // The books: what arrived was sent, what is delivered arrived, and at most the window and the queue of each leaf are on their way.
    let Books { sent, delivered, arrived, .. } = run.books;
    assert!(
        delivered <= arrived && arrived <= sent && sent - delivered <= 4 * u64::from(LEAVES),
        "{:?}",
        run.books
    );
}
