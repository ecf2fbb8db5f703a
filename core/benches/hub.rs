//! What a hub does for one event, with 1, 10, 100 or 250 leaves that all have a session. Each event is a function of its own, so that callgrind counts it
//! alone; `tests/instructions` does that and prints the table.
//!
//! `hub LEAVES ROUNDS` runs so many rounds of all events (0: the silence); without arguments (as `cargo bench` runs it) a few of each, to see that they work.
#![allow(missing_docs, clippy::cast_possible_truncation)]

use std::hint::black_box;

use bellwire::{
    fcs::Fcs16,
    frame::Class,
    framing::Cobs,
    link::{Config, Event, Link, Outcome, OwnNumber, When},
    star::{Addressed, Hub, HubConfig, Speaks},
    time::Instant,
};

type Desk<const LEAVES: usize> = Hub<Cobs, Fcs16, LEAVES, 16, 64>;
type Leaf = Link<Addressed<Cobs>, Fcs16, 64, 1, 4>;

/// Message number 9 and 15 octets more.
const PAYLOAD: [u8; 16] = [9, 0x10, 0x27, 0, 0, 0x34, 0x12, 0xFE, 0xFF, 0, 0, 0xB0, 0x41, 3, 0, 0x7E];

/// A report arrives, is told, and its acknowledgement is made.
#[inline(never)]
fn report_received<const LEAVES: usize>(
    hub: &mut Desk<LEAVES>,
    now: Instant,
    octets: &[u8],
    out: &mut [u8],
) -> usize {
    let done = hub.handle_octets(now, octets);
    let told = matches!(hub.poll_event(), Some(told) if matches!(told.event, Event::Message(_)));
    let silent = hub.poll_event().is_none();
    let len = hub.poll_transmit(now, out).map_or(0, |transmit| transmit.len);
    if done == octets.len() && told && silent { len } else { 0 }
}

/// An errand is accepted and its frame is made.
#[inline(never)]
fn errand_sent<const LEAVES: usize>(hub: &mut Desk<LEAVES>, now: Instant, leaf: u8, out: &mut [u8]) -> usize {
    if hub.send(now, leaf, Class::Errand, &PAYLOAD).is_err() {
        return 0;
    }
    hub.poll_transmit(now, out).map_or(0, |transmit| transmit.len)
}

/// The acknowledgement of an errand arrives, and its outcome is told.
#[inline(never)]
fn acknowledgement_handled<const LEAVES: usize>(hub: &mut Desk<LEAVES>, now: Instant, octets: &[u8]) -> bool {
    let done = hub.handle_octets(now, octets);
    let delivered = |event| matches!(event, Event::Outcome { outcome: Outcome::Delivered, .. });
    let told = hub.poll_event().is_some_and(|told| delivered(told.event));
    done == octets.len() && told && hub.poll_event().is_none()
}

/// The whole loop of a program, where nothing is due.
#[inline(never)]
fn idle_poll<const LEAVES: usize>(hub: &mut Desk<LEAVES>, now: Instant, out: &mut [u8]) -> bool {
    hub.handle_timeout(now);
    hub.poll_event().is_none() && hub.poll_transmit(now, out).is_none()
}

#[inline(never)]
fn poll_wake<const LEAVES: usize>(hub: &Desk<LEAVES>) -> When {
    hub.poll_wake().when
}

/// What 2.5 s bring by themselves while no leaf is heard: two keep-alives for each, that it is quiet, and looks at deadlines. Gives how many frames left.
#[inline(never)]
fn silence<const LEAVES: usize>(hub: &mut Desk<LEAVES>, begin: u32, out: &mut [u8]) -> usize {
    let (mut frames, mut passed) = (0, 0);
    while passed < 2_500_000 {
        let now = Instant::from_ticks(begin.wrapping_add(passed));
        hub.handle_timeout(now);
        while hub.poll_event().is_some() {}
        while hub.poll_transmit(now, out).is_some() {
            frames += 1;
        }
        passed = match hub.poll_wake().when {
            When::Now => passed,
            When::At(at) => at.as_ticks().wrapping_sub(begin),
            When::Idle => return frames,
        };
    }
    frames
}

struct Star<const LEAVES: usize> {
    micros: u32,
    hub: Desk<LEAVES>,
    leaves: Vec<Leaf>,
    out: [u8; 80],
}

impl<const LEAVES: usize> Star<LEAVES> {
    /// All sessions are open; the leaves came one after the other, spread over a second.
    fn new() -> Self {
        let now = Instant::from_ticks(0);
        let hub = Desk::<LEAVES>::new(Cobs, HubConfig::wire(1_000_000, 0x1000), now);
        let mut star = Self { micros: 0, hub, leaves: Vec::new(), out: [0; 80] };
        for leaf in 1..=LEAVES as u8 {
            star.micros += 1_000_000 / LEAVES as u32;
            let config = Config::uart(1_000_000, OwnNumber::Stored(u32::from(leaf) << 8));
            let framing = Addressed { framing: Cobs, own: leaf, peer: 0 };
            star.leaves.push(Leaf::new(framing, config, star.now()));
            assert!(star.hub.admit(star.now(), leaf, Speaks::Hub));
            while star.hub.session(leaf).is_none() {
                star.micros += 100;
                star.serve();
            }
        }
        star
    }

    fn now(&self) -> Instant {
        Instant::from_ticks(self.micros)
    }

    fn is_idle_for(&self, micros: u32) -> bool {
        match self.hub.poll_wake().when {
            When::Now => false,
            When::At(at) => at.as_ticks().wrapping_sub(self.micros).wrapping_sub(micros + 1) < 1 << 31,
            When::Idle => true,
        }
    }

    /// Lets the hub send what it has, and the leaves answer.
    fn serve(&mut self) {
        let now = self.now();
        self.hub.handle_timeout(now);
        while self.hub.poll_event().is_some() {}
        while let Some(transmit) = self.hub.poll_transmit(now, &mut self.out) {
            let place = usize::from(transmit.leaf) - 1;
            self.leaf_hears(place, transmit.len);
            while let Some(len) = self.leaves[place].poll_transmit(now, &mut self.out) {
                let mut at = 0;
                while at < len {
                    at += self.hub.handle_octets(now, &self.out[at..len]);
                    while self.hub.poll_event().is_some() {}
                }
            }
        }
    }

    fn leaf_hears(&mut self, place: usize, len: usize) {
        let (now, link) = (self.now(), &mut self.leaves[place]);
        link.handle_timeout(now);
        let mut at = 0;
        while at < len {
            at += link.handle_octets(now, &self.out[at..len]);
            while link.poll_event().is_some() {}
        }
    }

    /// Each event once, with this leaf.
    fn round(&mut self, place: usize) {
        self.micros += 50;
        // What is due by itself does not belong to the events.
        self.serve();
        let (now, mut wire) = (self.now(), [0; 80]);
        let link = &mut self.leaves[place];
        link.handle_timeout(now);
        while link.poll_event().is_some() {}
        link.send(now, Class::Report, &PAYLOAD).expect("a session");
        let len = link.poll_transmit(now, &mut wire).expect("a report");
        let len = report_received(&mut self.hub, now, black_box(&wire[..len]), &mut self.out);
        assert!(len > 0, "an acknowledgement");
        self.leaf_hears(place, len);
        let leaf = u8::try_from(place + 1).expect("an address");
        let len = errand_sent(&mut self.hub, now, black_box(leaf), &mut self.out);
        assert!(len > 0, "an errand");
        self.leaf_hears(place, len);
        let len = self.leaves[place].poll_transmit(now, &mut wire).expect("an acknowledgement");
        assert!(acknowledgement_handled(&mut self.hub, now, black_box(&wire[..len])), "delivered");
        black_box(poll_wake(black_box(&self.hub)));
        while !self.is_idle_for(20) {
            self.micros += 20;
            self.serve();
        }
        self.micros += 20;
        let now = self.now();
        assert!(idle_poll(&mut self.hub, now, &mut self.out), "idle");
    }
}

/// So many rounds of all events, or 2.5 s of silence after everybody has been heard.
fn run_with<const LEAVES: usize>(rounds: usize) {
    let mut star = Star::<LEAVES>::new();
    // 101 is prime to all the numbers of leaves, so that all of them have their turn in no order.
    (0..rounds.max(LEAVES)).for_each(|round| star.round(round * 101 % LEAVES));
    if rounds == 0 {
        let frames = silence(&mut star.hub, star.micros, &mut star.out);
        assert_eq!(frames, 2 * LEAVES, "keep-alives");
    }
}

fn run(leaves: usize, rounds: usize) {
    match leaves {
        1 => run_with::<1>(rounds),
        10 => run_with::<10>(rounds),
        100 => run_with::<100>(rounds),
        250 => run_with::<250>(rounds),
        _ => panic!("a hub of 1, 10, 100 or 250 leaves"),
    }
}

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).filter(|argument| argument != "--bench").collect();
    if let [leaves, rounds] = &arguments[..] {
        let (Ok(leaves), Ok(rounds)) = (leaves.parse(), rounds.parse()) else {
            panic!("LEAVES and ROUNDS are numbers")
        };
        return run(leaves, rounds);
    }
    println!("counts need callgrind: run tests/instructions");
    for leaves in [1, 10, 100, 250] {
        run(leaves, 250);
        run(leaves, 0);
    }
}
