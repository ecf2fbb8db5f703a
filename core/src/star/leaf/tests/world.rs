//! A desk with a hub, a roster and what goes to all, and real leaves, on one medium in virtual time: every frame of the desk reaches all leaves, every frame of a leaf the desk
//! and the other leaves, unless it is lost; on an unordered medium it may be doubled and overtaken. Everything is drawn from one seed.

use super::*;
use crate::{
    frame::{Read, Reader, Reject},
    link::{Config, Event, When},
    star::{BroadcastSender, Hub, HubConfig, HubEvent, Join, Roster, Seated, Speaks},
};
use std::{vec, vec::Vec};

/// The lifetime of a frame on an unordered medium, µs.
pub(super) const LIFETIME: u32 = 40_000;
pub(super) const LEAVES: usize = 3;

pub(super) struct Dice(u64);

impl Dice {
    /// Below `bound` (splitmix64, Steele and others, OOPSLA 2014).
    fn below(&mut self, bound: u32) -> u32 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ mixed >> 30).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ mixed >> 27).wrapping_mul(0x94D0_49BB_1331_11EB);
        (mixed >> 32) as u32 % bound
    }
}

/// What happens to frames, in 1/256.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Faults {
    pub(super) lost: u32,
    pub(super) doubled: u32,
    pub(super) late: u32,
}

struct Flying {
    at: u32,
    order: u32,
    from: Option<usize>,
    octets: Vec<u8>,
}

/// The desk: what of it is lost with a restart.
pub(super) struct Desk<F: Framing> {
    pub(super) hub: Hub<F, Fcs16, 8, 24, 64>,
    pub(super) all: BroadcastSender<16, 4>,
    roster: Roster<8>,
    reader: Reader<F, Fcs16, 80>,
}

/// What somebody was told.
pub(super) enum Told<'a> {
    AtDesk(Event<'a>),
    AtLeaf(usize, LeafEvent<'a>),
}

pub(super) trait Watch<F: Framing> {
    /// `session`: the one that the board is in, and who the hub is.
    fn told(&mut self, now: u32, session: Option<(u32, u64)>, told: &Told<'_>);
}

pub(super) struct World<F: Framing> {
    pub(super) now: u32,
    pub(super) desk: Desk<F>,
    pub(super) leaves: Vec<Leaf<F>>,
    pub(super) boot: u64,
    pub(super) faults: Faults,
    framing: F,
    dice: Dice,
    flying: Vec<Flying>,
    starts: u32,
    sent: u32,
}

/// Where the addresses of the leaves come from.
const HOW: [Address; LEAVES] = [Address::Asked, Address::Wanted(5), Address::Asked];

fn lifetime<F: Framing>() -> Duration {
    Duration::from_ticks(if F::ORDERED { 0 } else { LIFETIME })
}

impl<F: Framing> World<F> {
    pub(super) fn new(framing: F, seed: u64, faults: Faults) -> Self {
        let (mut starts, boot) = (0, 1);
        let desk = Self::a_desk(&framing, boot, 0);
        let leaves = (0..LEAVES).map(|leaf| Self::a_leaf(&framing, &mut starts, leaf, 0)).collect();
        Self {
            now: 0,
            desk,
            leaves,
            boot,
            faults,
            framing,
            dice: Dice(seed),
            flying: vec![],
            starts,
            sent: 0,
        }
    }

    /// The identity and the broadcast number of the hub count its starts, so that a leaf can be asked with which of them it talks.
    /// Own numbers lie so that no two of the first 64 starts on both sides have sums, which are session numbers, in common (W-23).
    fn a_desk(framing: &F, boot: u64, now: u32) -> Desk<F> {
        let own = u32::try_from(boot).unwrap() * 0x40;
        let mut config = HubConfig::wire(1_000_000, own);
        if !F::ORDERED {
            config = HubConfig::datagram(100_000, lifetime::<F>(), own);
        }
        config.identity = boot;
        Desk {
            hub: Hub::new(framing.clone(), config, at(now)),
            all: BroadcastSender::new(u32::try_from(boot).unwrap(), lifetime::<F>()),
            roster: Roster::new(0),
            reader: Reader::new(framing.clone()),
        }
    }

    fn a_leaf(framing: &F, starts: &mut u32, leaf: usize, now: u32) -> Leaf<F> {
        *starts += 1;
        let own = OwnNumber::Stored(*starts * 0x1000);
        let mut link = Config::uart(1_000_000, own);
        if !F::ORDERED {
            link = Config::datagram(100_000, lifetime::<F>(), own);
        }
        link.identity = 0xD0 + leaf as u64;
        Leaf::new(framing.clone(), LeafConfig::new(link, HOW[leaf]), at(now))
    }

    pub(super) fn restart_leaf(&mut self, leaf: usize) {
        self.leaves[leaf] = Self::a_leaf(&self.framing, &mut self.starts, leaf, self.now);
    }

    /// With an empty roster: the worst case.
    pub(super) fn restart_desk(&mut self) {
        self.boot += 1;
        self.desk = Self::a_desk(&self.framing, self.boot, self.now);
    }

    fn put_on(&mut self, from: Option<usize>, octets: &[u8]) {
        for copy in 0..2 {
            if copy == 1 && (F::ORDERED || self.dice.below(256) >= self.faults.doubled) {
                return;
            }
            if self.dice.below(256) < self.faults.lost {
                continue;
            }
            let is_late = !F::ORDERED && self.dice.below(256) < self.faults.late;
            let late = if is_late { self.dice.below(LIFETIME - 2_000) } else { 0 };
            self.sent += 1;
            let (at, order) = (self.now + 500 + late, self.sent);
            self.flying.push(Flying { at, order, from, octets: octets.to_vec() });
        }
    }

    fn serve_desk(&mut self, watch: &mut impl Watch<F>) {
        self.desk.hub.handle_timeout(at(self.now));
        let mut opened = vec![];
        loop {
            let sessions: Vec<_> = (1..=8).map(|leaf| self.desk.hub.session(leaf)).collect();
            let Some(HubEvent { leaf, event }) = self.desk.hub.poll_event() else { break };
            let Some(leaf) = leaf else { continue };
            if let Event::Opened(peer) = event {
                opened.push((leaf, peer.identity));
            }
            let session = sessions[usize::from(leaf) - 1].map(|session| (session, self.boot));
            watch.told(self.now, session, &Told::AtDesk(event));
        }
        opened.into_iter().for_each(|(leaf, identity)| self.meet(leaf, identity));
        let mut out = [0; 160];
        while let Some(transmit) = self.desk.hub.poll_transmit(at(self.now), &mut out) {
            self.put_on(None, &out[..transmit.len]);
        }
        while let Some(len) =
            self.desk.all.poll_transmit::<F, Fcs16>(&self.framing, Lead::Delimiter, &mut out)
        {
            self.put_on(None, &out[..len]);
        }
    }

    /// A session has opened. One with another board than the roster has for that address comes to its end again (W-60): a desk that has lost its roster may have given away an
    /// address that its board still uses.
    fn meet(&mut self, leaf: u8, identity: u64) {
        match self.desk.roster.heard(leaf, Some(identity), self.now / 1_000_000) {
            Ok(_) => self.tell(leaf),
            Err(_) => {
                assert!(self.desk.hub.dismiss(at(self.now), leaf));
                assert!(self.desk.hub.admit(at(self.now), leaf, Speaks::Leaf));
            }
        }
    }

    /// After each opening, and when asked (W-70).
    fn tell(&mut self, leaf: u8) {
        let Some(session) = self.desk.hub.session(leaf) else { return };
        let mut out = [0; 40];
        let len =
            self.desk.all.tell(session).write::<F, Fcs16>(&self.framing, leaf, Lead::Delimiter, &mut out);
        self.put_on(None, &out[..len]);
    }

    /// What the hub skips and the desk must hear: JOIN, and TO ALL that asks.
    fn overhear(&mut self, octets: &[u8]) {
        let mut rest = octets;
        while !rest.is_empty() {
            let (done, read) = self.desk.reader.feed(rest);
            rest = &rest[done..];
            match read {
                Some(Read::Refused {
                    reject: Reject::UnknownExtension,
                    octets: &[0xE0, 0x13, ref body @ ..],
                }) => {
                    let join = Join::parse(body).expect("a JOIN");
                    self.seat(join);
                }
                Some(Read::Refused { octets: &[0xF0, 0, leaf, 0x17], .. }) => self.tell(leaf),
                _ => {}
            }
        }
    }

    fn seat(&mut self, join: Join) {
        let seated = self.desk.roster.join(join.identity, join.wanted, self.now / 1_000_000);
        match seated {
            Ok(Seated::New(leaf) | Seated::Again(leaf)) => {
                self.desk.hub.admit(at(self.now), leaf, Speaks::Leaf);
            }
            Ok(Seated::Moved { .. }) => panic!("nobody wants another address"),
            Err(_) => {}
        }
        let mut out = [0; 40];
        let len =
            Welcome::of(join.identity, seated).write::<F, Fcs16>(&self.framing, Lead::Delimiter, &mut out);
        self.put_on(None, &out[..len]);
    }

    fn serve_leaf(&mut self, leaf: usize, watch: &mut impl Watch<F>) {
        let board = &mut self.leaves[leaf];
        board.handle_timeout(at(self.now));
        loop {
            let session = board.peer().map(|peer| (peer.session, peer.identity));
            let Some(event) = board.poll_event() else { break };
            watch.told(self.now, session, &Told::AtLeaf(leaf, event));
        }
        assert!(!board.has_event());
        let mut out = [0; 160];
        while let Some(len) = self.leaves[leaf].poll_transmit(at(self.now), &mut out) {
            assert!(len > 0 && len <= Leaf::<F>::max_transmit());
            self.put_on(Some(leaf), &out[..len]);
        }
        let wake = self.leaves[leaf].poll_wake();
        assert_ne!(wake.when, When::Now, "all is drained, but {wake:?}");
    }

    fn arrive(&mut self, frame: &Flying, watch: &mut impl Watch<F>) {
        let now = at(self.now);
        if frame.from.is_some() {
            self.overhear(&frame.octets);
            let mut rest = &frame.octets[..];
            while !rest.is_empty() {
                let done = self.desk.hub.handle_octets(now, rest);
                rest = &rest[done..];
                self.serve_desk(watch);
            }
        }
        for leaf in (0..LEAVES).filter(|leaf| Some(*leaf) != frame.from) {
            let mut rest = &frame.octets[..];
            while !rest.is_empty() {
                let done = self.leaves[leaf].handle_octets(now, rest);
                rest = &rest[done..];
                self.serve_leaf(leaf, watch);
            }
        }
    }

    fn next(&self) -> Option<u32> {
        let of = |when| match when {
            When::Now => Some(self.now),
            When::At(at) => Some(at.as_ticks()),
            When::Idle => None,
        };
        let wakes = self.leaves.iter().map(|leaf| leaf.poll_wake().when);
        let wakes = wakes.chain([self.desk.hub.poll_wake().when]).filter_map(of);
        let all = self.desk.all.poll_wait().map(|wait| self.now + wait.as_ticks());
        wakes.chain(all).chain(self.flying.iter().map(|frame| frame.at)).min()
    }

    /// Serves everybody until then.
    pub(super) fn run(&mut self, until: u32, watch: &mut impl Watch<F>) {
        let mut before = (self.now, 0);
        loop {
            self.serve_desk(watch);
            for leaf in 0..LEAVES {
                self.serve_leaf(leaf, watch);
            }
            let Some(next) = self.next().filter(|next| *next <= until) else { break };
            self.desk.all.elapse(Duration::from_ticks(next - self.now));
            before = if before.0 == next { (next, before.1 + 1) } else { (next, 0) };
            assert!(before.1 < 1_000, "time stands still");
            self.now = next;
            loop {
                let due = self.flying.iter().enumerate().filter(|(_, frame)| frame.at <= next);
                let first = due.min_by_key(|(_, frame)| (frame.at, frame.order)).map(|(at, _)| at);
                let Some(first) = first else { break };
                let frame = self.flying.swap_remove(first);
                self.arrive(&frame, watch);
            }
        }
        self.desk.all.elapse(Duration::from_ticks(until - self.now));
        self.now = until;
    }
}
