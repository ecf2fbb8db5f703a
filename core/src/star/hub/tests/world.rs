//! A hub and real links over one medium, in virtual time: every frame of the hub reaches all leaves, every frame of a leaf the hub and the other leaves, unless
//! it is lost; on an unordered medium it may be doubled and overtaken. Everything is drawn from one seed.

use super::super::{Hub, HubConfig, HubEvent, Speaks};
use crate::{
    fcs::Fcs16,
    framing::Framing,
    link::{Config, Event, Link, OwnNumber, When},
    star::Addressed,
    time::{Duration, Instant},
};
use std::{vec, vec::Vec};

pub(super) const POOL: usize = 24;

/// A leaf's end.
pub(super) type Leaf<F> = Link<Addressed<F>, Fcs16, 64, 1, 4>;

/// The lifetime of a frame on an unordered medium, µs.
pub(super) const LIFETIME: u32 = 40_000;

/// What happens to frames, in 1/256.
#[derive(Clone, Copy, Default)]
pub(super) struct Faults {
    pub(super) lost: u32,
    pub(super) doubled: u32,
    pub(super) late: u32,
}

pub(super) struct Dice(u64);

impl Dice {
    pub(super) fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// 32 random bits (splitmix64, Steele and others, OOPSLA 2014).
    pub(super) fn roll(&mut self) -> u32 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ mixed >> 30).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ mixed >> 27).wrapping_mul(0x94D0_49BB_1331_11EB);
        (mixed >> 32) as u32
    }

    pub(super) fn below(&mut self, bound: u32) -> u32 {
        self.roll() % bound
    }

    fn hits(&mut self, of_256: u32) -> bool {
        self.below(256) < of_256
    }
}

/// What a board was told; `None` as leaf: the hub, of that leaf.
pub(super) struct Told<'a> {
    pub(super) at_hub: bool,
    pub(super) leaf: u8,
    pub(super) event: Event<'a>,
}

/// What watches, and speaks.
pub(super) trait Watch<F: Framing, const LEAVES: usize> {
    fn told(&mut self, now: u32, session: Option<u32>, told: &Told<'_>);
}

struct Flying {
    at: u32,
    order: u32,
    from: u8,
    octets: Vec<u8>,
}

pub(super) struct World<F: Framing, const LEAVES: usize> {
    pub(super) now: u32,
    pub(super) hub: Hub<F, Fcs16, LEAVES, POOL, 64>,
    pub(super) leaves: Vec<Leaf<F>>,
    framing: F,
    pub(super) faults: Faults,
    pub(super) dice: Dice,
    flying: Vec<Flying>,
    starts: u32,
    sent: u32,
    /// Frames that the hub sent, by leaf, in order.
    pub(super) log: Vec<u8>,
}

impl<F: Framing, const LEAVES: usize> World<F, LEAVES> {
    pub(super) fn new(framing: F, seed: u64, faults: Faults) -> Self {
        let mut starts = 0;
        let hub = Self::hub(&framing, &mut starts, 0);
        let leaves = (1..=LEAVES as u8).map(|leaf| Self::leaf(&framing, &mut starts, leaf, 0)).collect();
        let dice = Dice::new(seed);
        Self { now: 0, hub, leaves, framing, faults, dice, flying: vec![], starts, sent: 0, log: vec![] }
    }

    fn hub(framing: &F, starts: &mut u32, now: u32) -> Hub<F, Fcs16, LEAVES, POOL, 64> {
        *starts += 1;
        let mut config = HubConfig::wire(1_000_000, 0x10_0000 + *starts * 0x1000);
        if !F::ORDERED {
            config = HubConfig::datagram(100_000, Duration::from_ticks(LIFETIME), config.own);
        }
        let now = Instant::from_ticks(now);
        let mut hub = Hub::new(framing.clone(), config, now);
        for leaf in 1..=LEAVES as u8 {
            assert!(hub.admit(now, leaf, Speaks::Hub));
        }
        hub
    }

    fn leaf(framing: &F, starts: &mut u32, leaf: u8, now: u32) -> Leaf<F> {
        *starts += 1;
        let own = OwnNumber::Stored(0x20_0000 + *starts * 0x1000);
        let mut config = Config::uart(1_000_000, own);
        if !F::ORDERED {
            config = Config::datagram(100_000, Duration::from_ticks(LIFETIME), own);
        }
        config.jitter_seed = *starts;
        config.identity = 0xD0 + u64::from(leaf);
        Link::new(
            Addressed { framing: framing.clone(), own: leaf, peer: 0 },
            config,
            Instant::from_ticks(now),
        )
    }

    pub(super) fn restart_leaf(&mut self, leaf: u8) {
        self.leaves[usize::from(leaf) - 1] = Self::leaf(&self.framing, &mut self.starts, leaf, self.now);
    }

    pub(super) fn restart_hub(&mut self) {
        self.hub = Self::hub(&self.framing, &mut self.starts, self.now);
    }

    fn put_on(&mut self, from: u8, octets: &[u8]) {
        for copy in 0..2 {
            if copy == 1 && (F::ORDERED || !self.dice.hits(self.faults.doubled)) {
                return;
            }
            if self.dice.hits(self.faults.lost) {
                continue;
            }
            let late = if F::ORDERED || !self.dice.hits(self.faults.late) {
                0
            } else {
                self.dice.below(LIFETIME - 2_000)
            };
            self.sent += 1;
            self.flying.push(Flying {
                at: self.now + 500 + late,
                order: self.sent,
                from,
                octets: octets.to_vec(),
            });
        }
    }

    fn serve_hub(&mut self, watch: &mut impl Watch<F, LEAVES>) {
        let now = Instant::from_ticks(self.now);
        self.hub.handle_timeout(now);
        loop {
            let sessions: Vec<_> = (1..=LEAVES as u8).map(|leaf| self.hub.session(leaf)).collect();
            let Some(HubEvent { leaf, event }) = self.hub.poll_event() else { break };
            let leaf = leaf.unwrap_or(0);
            let session = usize::from(leaf).checked_sub(1).and_then(|place| sessions[place]);
            watch.told(self.now, session, &Told { at_hub: true, leaf, event });
        }
        let mut out = [0; 160];
        while let Some(transmit) = self.hub.poll_transmit(now, &mut out) {
            assert!(transmit.len > 0 && transmit.len <= Hub::<F, Fcs16, LEAVES, POOL, 64>::max_transmit());
            self.log.push(transmit.leaf);
            self.put_on(0, &out[..transmit.len]);
        }
    }

    fn serve_leaf(&mut self, leaf: u8, watch: &mut impl Watch<F, LEAVES>) {
        let now = Instant::from_ticks(self.now);
        let link = &mut self.leaves[usize::from(leaf) - 1];
        link.handle_timeout(now);
        loop {
            let session = link.peer().map(|peer| peer.session);
            let Some(event) = link.poll_event() else { break };
            watch.told(self.now, session, &Told { at_hub: false, leaf, event });
        }
        let mut out = [0; 160];
        while let Some(len) = self.leaves[usize::from(leaf) - 1].poll_transmit(now, &mut out) {
            self.put_on(leaf, &out[..len]);
        }
    }

    fn arrive(&mut self, frame: &Flying, watch: &mut impl Watch<F, LEAVES>) {
        let now = Instant::from_ticks(self.now);
        if frame.from != 0 {
            let mut rest = &frame.octets[..];
            while !rest.is_empty() {
                let done = self.hub.handle_octets(now, rest);
                rest = &rest[done..];
                self.serve_hub(watch);
            }
        }
        for leaf in (1..=LEAVES as u8).filter(|leaf| *leaf != frame.from) {
            let mut rest = &frame.octets[..];
            while !rest.is_empty() {
                let done = self.leaves[usize::from(leaf) - 1].handle_octets(now, rest);
                rest = &rest[done..];
                self.serve_leaf(leaf, watch);
            }
        }
    }

    /// When something happens next by itself.
    fn next(&self) -> Option<u32> {
        let of = |when| match when {
            When::Now => Some(self.now),
            When::At(at) => Some(at.as_ticks()),
            When::Idle => None,
        };
        let wakes = self.leaves.iter().map(|leaf| leaf.poll_wake().when).chain([self.hub.poll_wake().when]);
        wakes.filter_map(of).chain(self.flying.iter().map(|frame| frame.at)).min()
    }

    /// Serves everybody until then.
    pub(super) fn run(&mut self, until: u32, watch: &mut impl Watch<F, LEAVES>) {
        loop {
            self.serve_hub(watch);
            for leaf in 1..=LEAVES as u8 {
                self.serve_leaf(leaf, watch);
            }
            let Some(next) = self.next().filter(|next| *next <= until) else { break };
            self.now = next;
            loop {
                let due = self.flying.iter().enumerate().filter(|(_, frame)| frame.at <= next);
                let Some(first) = due.min_by_key(|(_, frame)| (frame.at, frame.order)).map(|(at, _)| at)
                else {
                    break;
                };
                let frame = self.flying.swap_remove(first);
                self.arrive(&frame, watch);
            }
        }
        self.now = until;
    }
}
