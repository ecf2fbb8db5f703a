//! Three leaves that send each other errands by way of the hub: exact steps, then the books under loss and restarts.
#![allow(clippy::cast_possible_truncation)]

use super::*;
use crate::{
    fcs::Fcs16,
    framing::Cobs,
    link::{Config, Link, OwnNumber, State},
    star::{Addressed, HubConfig, Speaks},
    time::Duration,
};
use std::{collections::HashMap, vec, vec::Vec};

type Desk = Hub<Cobs, Fcs16, 3, 8, 64>;
type Leaf = Link<Addressed<Cobs>, Fcs16, 64, 1, 4>;

const LIMIT: Duration = Duration::from_ticks(20_000_000);

struct Star {
    now: u32,
    desk: Desk,
    relay: Relay<4, 32>,
    leaves: Vec<(Leaf, Relaying<4>)>,
    starts: u32,
    dice: u32,
    /// Frames lost, in 1/256.
    lost: u32,
    /// Which leaf got what, from whom.
    got: Vec<(u8, u8, Vec<u8>)>,
    /// Which leaf was told what.
    steps: Vec<(u8, RelayEvent)>,
    /// Events of the hub that the program would see.
    seen: usize,
}

impl Star {
    fn new() -> Self {
        let mut star = Self {
            now: 0,
            desk: Desk::new(Cobs, HubConfig::wire(0, 0x1000), Instant::from_ticks(0)),
            relay: Relay::new(),
            leaves: vec![],
            starts: 0,
            dice: 1,
            lost: 0,
            got: vec![],
            steps: vec![],
            seen: 0,
        };
        for leaf in 1..=3 {
            assert!(star.desk.admit(star.now(), leaf, Speaks::Hub));
            let new = star.leaf(leaf);
            star.leaves.push((new, Relaying::new()));
        }
        star.pass(500_000);
        star
    }

    fn now(&self) -> Instant {
        Instant::from_ticks(self.now)
    }

    fn leaf(&mut self, own: u8) -> Leaf {
        self.starts += 1;
        let config = Config::uart(0, OwnNumber::Stored(0x8000 + self.starts * 16));
        Leaf::new(Addressed { framing: Cobs, own, peer: 0 }, config, self.now())
    }

    fn roll(&mut self) -> u32 {
        self.dice = self.dice.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        self.dice >> 16
    }

    fn is_lost(&mut self) -> bool {
        self.roll() & 0xFF < self.lost
    }

    fn serve_desk(&mut self) {
        let now = self.now();
        self.desk.handle_timeout(now);
        let mut out = [0; 80];
        loop {
            while let Some(told) = self.desk.poll_event() {
                if !self.relay.handle_event(&told) {
                    self.seen += usize::from(matches!(told.event, Event::Message(_) | Event::Outcome { .. }));
                }
            }
            self.relay.poll(&mut self.desk, now);
            let Some(transmit) = self.desk.poll_transmit(now, &mut out) else { return };
            if !self.is_lost() {
                for leaf in 1..=3 {
                    self.leaf_hears(leaf, &out[..transmit.len]);
                }
            }
        }
    }

    fn leaf_hears(&mut self, leaf: u8, mut octets: &[u8]) {
        while !octets.is_empty() {
            let done =
                self.leaves[usize::from(leaf) - 1].0.handle_octets(Instant::from_ticks(self.now), octets);
            octets = &octets[done..];
            self.leaf_events(leaf);
        }
    }

    fn leaf_events(&mut self, leaf: u8) {
        let now = self.now();
        let (link, relaying) = &mut self.leaves[usize::from(leaf) - 1];
        while let Some(event) = link.poll_event() {
            self.steps.extend(relaying.handle_event(&event).map(|event| (leaf, event)));
            if let Event::Message(message) = event
                && let Ok(Some(Relayed { other, carried: Carried::Message(inner), .. })) =
                    Relayed::parse(message.payload)
            {
                self.got.push((leaf, other, inner.to_vec()));
            }
        }
        while let Some(event) = relaying.poll(now) {
            self.steps.push((leaf, event));
        }
    }

    fn serve_leaf(&mut self, leaf: u8) {
        let now = self.now();
        self.leaves[usize::from(leaf) - 1].0.handle_timeout(now);
        self.leaf_events(leaf);
        let mut out = [0; 80];
        while let Some(len) = self.leaves[usize::from(leaf) - 1].0.poll_transmit(now, &mut out) {
            let mut octets = if self.is_lost() { &[][..] } else { &out[..len] };
            while !octets.is_empty() {
                octets = &octets[self.desk.handle_octets(now, octets)..];
                while let Some(told) = self.desk.poll_event() {
                    self.relay.handle_event(&told);
                }
            }
        }
    }

    fn pass(&mut self, span: u32) {
        for _ in 0..span / 1_000 {
            self.now += 1_000;
            self.serve_desk();
            (1..=3).for_each(|leaf| self.serve_leaf(leaf));
        }
    }

    fn ask(&mut self, from: u8, to: u8, message: &[u8]) -> Option<u8> {
        let now = self.now();
        let (link, relaying) = &mut self.leaves[usize::from(from) - 1];
        let mut payload = [0; 64];
        let asked = relaying.ask(to, message, &mut payload)?;
        let ticket = link.send(now, Class::Errand, &payload[..asked.len]).ok()?;
        relaying.accepted(asked, ticket, now, LIMIT);
        Some(asked.name)
    }

    fn steps_of(&self, leaf: u8, name: u8) -> Vec<RelayStep> {
        let of = |(who, event): &(u8, RelayEvent)| (*who == leaf && event.name == name).then_some(event.step);
        self.steps.iter().filter_map(of).collect()
    }
}

#[test]
fn taken_by_the_hub_and_delivered_at_the_far_leaf_are_two_things() {
    let mut star = Star::new();
    let name = star.ask(1, 2, &[5, 77]).unwrap();
    star.serve_leaf(1);
    star.serve_desk();
    star.serve_leaf(1);
    assert_eq!(star.steps_of(1, name), [RelayStep::Taken]);
    star.pass(20_000);
    assert_eq!(star.steps_of(1, name), [RelayStep::Taken, RelayStep::Delivered]);
    assert_eq!(star.got, [(2, 1, vec![5, 77])]);
    star.pass(20_000);
    assert_eq!((star.relay.under_way(), star.leaves[0].1.under_way(), star.seen), (0, 0, 0));
}

#[test]
fn a_leaf_that_is_not_there_is_told_of_as_not_sent() {
    let mut star = Star::new();
    star.desk.dismiss(star.now(), 3);
    for to in [3, 0, 9] {
        star.steps.clear();
        let name = star.ask(1, to, &[5, 1]).unwrap();
        star.pass(50_000);
        assert_eq!(star.steps_of(1, name), [RelayStep::Taken, RelayStep::NotSent], "to {to}");
    }
    // Nor what is longer than the relay's places.
    star.steps.clear();
    let name = star.ask(1, 2, &[5; 33]).unwrap();
    star.pass(50_000);
    assert_eq!(star.steps_of(1, name), [RelayStep::Taken, RelayStep::NotSent]);
    assert!(star.got.is_empty());
}

#[test]
fn a_leaf_that_does_not_answer_leaves_the_outcome_unknown() {
    let mut star = Star::new();
    // The far leaf hears, and its acknowledgements are lost: it is off the air from now on.
    let name = star.ask(1, 2, &[5, 1]).unwrap();
    for _ in 0..10_000 {
        star.now += 1_000;
        star.serve_desk();
        star.serve_leaf(1);
    }
    assert_eq!(star.steps_of(1, name), [RelayStep::Taken, RelayStep::Unknown]);
    assert_eq!(star.got, [(2, 1, vec![5, 1])], "and yet it arrived");
}

#[test]
fn a_hub_that_restarts_leaves_the_outcome_unknown() {
    let mut star = Star::new();
    let now = star.now();
    star.leaves[1].0.close(now);
    let name = star.ask(1, 2, &[5, 1]).unwrap();
    star.serve_leaf(1);
    star.serve_desk();
    star.serve_leaf(1);
    assert_eq!(star.steps_of(1, name), [RelayStep::Taken]);
    star.desk = Desk::new(Cobs, HubConfig::wire(0, 0x5000), star.now());
    star.relay = Relay::new();
    (1..=3).for_each(|leaf| assert!(star.desk.admit(Instant::from_ticks(star.now), leaf, Speaks::Hub)));
    star.pass(3_000_000);
    assert_eq!(star.steps_of(1, name), [RelayStep::Taken, RelayStep::Unknown]);
}

/// Written by hand from W-68.
#[test]
fn the_bodies_are_laid_out_as_w68_says() {
    let mut out = [0; 8];
    for (carried, tail) in [
        (Carried::Message(&[9, 1, 2]), &[0, 4, 200, 9, 1, 2][..]),
        (Carried::Outcome(FarOutcome::Delivered), &[1, 4, 200]),
        (Carried::Outcome(FarOutcome::NotSent), &[2, 4, 200]),
        (Carried::Outcome(FarOutcome::Unknown), &[3, 4, 200]),
    ] {
        let relayed = Relayed { other: 4, name: 200, carried };
        let len = relayed.write(&mut out).unwrap();
        assert_eq!((&out[..2], &out[2..len]), (&[0xFE, 0x7F][..], tail));
        assert_eq!(Relayed::parse(&out[..len]), Ok(Some(relayed)));
        assert_eq!(relayed.write(&mut [0; 7][..len.min(8) - 1]), None);
    }
    for (bad, why) in [
        (&[0xFE, 0x7F, 0, 4][..], NotRelayed::BadLength),
        (&[0xFE, 0x7F, 0, 4, 1], NotRelayed::BadLength),
        (&[0xFE, 0x7F, 1, 4, 1, 9], NotRelayed::BadLength),
        (&[0xFE, 0x7F, 4, 4, 1], NotRelayed::NoSuchThing),
        (&[0xFE, 0x7F, 0, 4, 1, 0x80], NotRelayed::BadMessage),
        (&[0xFE, 0x7F, 0, 4, 1, 0xFE, 0x7F, 0, 1, 1, 9], NotRelayed::BadMessage),
    ] {
        assert_eq!(Relayed::parse(bad), Err(why), "{bad:02X?}");
    }
}

#[test]
fn the_books_of_what_is_relayed_balance_under_loss_and_restarts() {
    let mut sums = HashMap::<RelayStep, usize>::new();
    for seed in 0..12 {
        let mut star = Star::new();
        (star.dice, star.lost) = (seed, 40);
        // Who asked, its life, name and the number of the message.
        let mut asked: Vec<(u8, u8, u8, u16, usize)> = vec![];
        let mut done: Vec<(u16, RelayStep)> = vec![];
        for count in 0..300_u16 {
            let (from, to) = (1 + (star.roll() % 3) as u8, 1 + (star.roll() % 3) as u8);
            let [low, high] = count.to_le_bytes();
            if let Some(name) = star.ask(from, to, &[5, low, high]) {
                asked.push((from, to, name, count, star.steps.len()));
            }
            if star.roll().is_multiple_of(60) {
                let leaf = 1 + (star.roll() % 3) as u8;
                // What it asked is forgotten with it.
                asked.retain(|(from, .., count, _)| {
                    *from != leaf || done.iter().any(|(other, _)| other == count)
                });
                let new = star.leaf(leaf);
                star.leaves[usize::from(leaf) - 1] = (new, Relaying::new());
            }
            let span = 1_000 * (star.roll() % 60);
            star.pass(span);
            settle(&star, &asked, &mut done);
        }
        star.lost = 0;
        star.pass(30_000_000);
        settle(&star, &asked, &mut done);
        assert!((1..=3).all(|leaf| star.desk.state(leaf) == State::Up));
        assert_eq!(star.relay.under_way(), 0);
        for (from, to, name, count, _) in &asked {
            let step = done.iter().find(|(other, _)| other == count).map(|(_, step)| *step);
            let step = step.unwrap_or_else(|| panic!("{name} of {from} has no end"));
            let payload = [5, count.to_le_bytes()[0], count.to_le_bytes()[1]];
            let arrived = star.got.iter().filter(|got| got.2 == payload).count();
            match step {
                RelayStep::Delivered => assert_eq!(arrived, 1),
                RelayStep::NotSent => assert_eq!(arrived, 0),
                _ => assert!(arrived <= 1),
            }
            assert!(star.got.iter().filter(|got| got.2 == payload).all(|got| (got.0, got.1) == (*to, *from)));
            *sums.entry(step).or_default() += 1;
        }
    }
    let most = sums[&RelayStep::Delivered];
    assert!(most > 500 && sums.contains_key(&RelayStep::Unknown), "{sums:?}");
}

/// Enters the ends that were told; a name means the latest that was asked before.
fn settle(star: &Star, asked: &[(u8, u8, u8, u16, usize)], done: &mut Vec<(u16, RelayStep)>) {
    for (from, _, name, count, begun) in asked {
        if done.iter().any(|(other, _)| other == count) {
            continue;
        }
        let end = star.steps[*begun..]
            .iter()
            .find(|(leaf, event)| leaf == from && event.name == *name && event.step != RelayStep::Taken);
        done.extend(end.map(|(_, event)| (*count, event.step)));
    }
}
