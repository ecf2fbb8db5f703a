//! A breadth-first explorer of two links.
#![allow(dead_code, unreachable_pub, missing_docs, clippy::cast_possible_truncation)]

use std::{
    collections::HashSet,
    hash::{DefaultHasher, Hash, Hasher},
};

use bellwire::{
    fcs::Fcs16,
    frame::Class,
    framing::Framing,
    link::{Config, EndReason, Event, Link, Outcome, OwnNumber, State, When},
    time::{Duration, Instant},
};

type Board<F> = Link<F, Fcs16, 48, 2, 2>;

/// What a world may still do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Bounds {
    pub items: u8,
    pub restarts: [u8; 2],
    /// Sessions that either side ends by itself, as by silence, at any time.
    pub ends: u8,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash)]
struct World<F: Framing> {
    boards: [Board<F>; 2],
    /// Frames on their way to each board.
    wires: [Vec<Vec<u8>>; 2],
    left: Bounds,
    next_item: u8,
    lives: [u8; 2],
    /// Items that have arrived at board 1, as bits.
    arrived: u16,
    last_errand: u8,
    /// Session that each board was last told of: its own number and the peer's.
    sessions: [Option<(u32, u32)>; 2],
    /// The item of each ticket of board 0 in its present life.
    tickets: Vec<u8>,
}

/// Time as each board sees it: not part of the compared state.
#[derive(Debug, Clone, Copy)]
struct Clocks([u32; 2]);

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Copies {
    None,
    Stays,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Act {
    /// The so-manyth frame on its way to a board arrives; a copy may stay behind.
    Deliver(usize, usize, Copies),
    Lose(usize, usize),
    TimeOut(usize),
    Restart(usize),
    End(usize),
    Send(Class),
}

fn config(own: u32) -> Config {
    Config {
        octet_rate: 0,
        keep_alive: Duration::from_ticks(0),
        tries: 2,
        jitter_seed: 0,
        ..Config::uart(0, OwnNumber::Stored(own))
    }
}

fn make<F: Framing + Default>(who: usize, life: u8, clock: u32) -> Board<F> {
    Link::new(
        F::default(),
        config(1_000 * (who as u32 + 1) + 16 * u32::from(life)),
        Instant::from_ticks(clock),
    )
}

impl<F: Framing + Default> World<F> {
    fn new(left: Bounds) -> (Self, Clocks) {
        let mut world = Self {
            boards: [make(0, 0, 0), make(1, 0, 0)],
            wires: [vec![], vec![]],
            left,
            next_item: 0,
            lives: [0, 0],
            arrived: 0,
            last_errand: 0,
            sessions: [None, None],
            tickets: vec![],
        };
        let clocks = Clocks([0, 0]);
        world.serve(0, clocks);
        world.serve(1, clocks);
        (world, clocks)
    }

    /// Drains a board as the law asks, and checks what it tells.
    fn serve(&mut self, who: usize, clocks: Clocks) {
        let now = Instant::from_ticks(clocks.0[who]);
        loop {
            let own = self.boards[who].own_number();
            let other = self.boards[1 - who].own_number();
            let session =
                self.boards[who].peer().map(|peer| (own, peer.session.wrapping_sub(own) & 0x3_FFFF));
            let Some(event) = self.boards[who].poll_event() else { break };
            match event {
                Event::Opened(_) => self.sessions[who] = session,
                Event::Ended(reason) => {
                    let (_, theirs) = self.sessions[who].take().expect("ended what was open");
                    // K1: only if the peer really left it.
                    if matches!(reason, EndReason::PeerRestarted(_)) {
                        assert_ne!(theirs, other, "a live session was ended");
                    }
                }
                Event::Message(message) if message.class == Class::Notice => {}
                Event::Message(message) => {
                    let [_, item, mine, theirs] = message.payload else { panic!("{message:?}") };
                    // S1: taken in the session it was sent in, and in no other.
                    let here = session.map(|(own, peer)| (peer as u8, own as u8));
                    assert_eq!(here, Some((*mine, *theirs)), "a message of another session");
                    // S2, S3.
                    assert_eq!(self.arrived >> item & 1, 0, "twice");
                    self.arrived |= 1 << item;
                    if message.class == Class::Errand {
                        assert!(*item >= self.last_errand, "out of order");
                        self.last_errand = *item;
                    }
                }
                // S5.
                Event::Outcome { ticket, outcome: Outcome::Delivered } => {
                    let item = self.tickets[usize::from(ticket.get())];
                    assert_eq!(self.arrived >> item & 1, 1, "confirmed but never arrived");
                }
                Event::Outcome { .. } | Event::Resent { .. } | Event::Refused(_) => {}
                other => panic!("{other:?}"),
            }
        }
        let mut out = [0; 80];
        while let Some(len) = self.boards[who].poll_transmit(now, &mut out) {
            if self.wires[1 - who].len() < 2 {
                self.wires[1 - who].push(out[..len].to_vec());
                self.sort();
            }
        }
    }

    /// Where order does not count, states that differ in it are one.
    fn sort(&mut self) {
        if !F::ORDERED {
            self.wires.iter_mut().for_each(|wire| wire.sort());
        }
    }

    fn acts(&self) -> Vec<Act> {
        let mut acts = vec![];
        for who in 0..2 {
            let reach = if F::ORDERED { self.wires[who].len().min(1) } else { self.wires[who].len() };
            for at in 0..reach {
                acts.extend([Act::Deliver(who, at, Copies::None), Act::Lose(who, at)]);
                if !F::ORDERED {
                    acts.push(Act::Deliver(who, at, Copies::Stays));
                }
            }
            if self.boards[who].poll_wake().when != When::Idle {
                acts.push(Act::TimeOut(who));
            }
            if self.left.restarts[who] > 0 {
                acts.push(Act::Restart(who));
            }
            if self.left.ends > 0 && self.boards[who].state() == State::Up {
                acts.push(Act::End(who));
            }
        }
        if self.left.items > 0 && self.boards[0].state() == State::Up {
            acts.extend([Act::Send(Class::Errand), Act::Send(Class::Report)]);
        }
        acts
    }

    fn apply(&mut self, act: Act, clocks: &mut Clocks) {
        let now = |who: usize, clocks: &Clocks| Instant::from_ticks(clocks.0[who]);
        match act {
            Act::Lose(who, at) => {
                self.wires[who].remove(at);
            }
            Act::Deliver(who, at, copies) => {
                let frame = self.wires[who].remove(at);
                if copies == Copies::Stays {
                    self.wires[who].push(frame.clone());
                    self.sort();
                }
                let mut rest = &frame[..];
                while !rest.is_empty() {
                    let done = self.boards[who].handle_octets(now(who, clocks), rest);
                    rest = &rest[done..];
                    self.serve(who, *clocks);
                }
            }
            Act::TimeOut(who) => {
                if let When::At(at) = self.boards[who].poll_wake().when {
                    clocks.0[who] = at.as_ticks();
                }
                self.boards[who].handle_timeout(now(who, clocks));
                self.serve(who, *clocks);
            }
            Act::Restart(who) => {
                self.left.restarts[who] -= 1;
                self.lives[who] += 1;
                self.boards[who] = make(who, self.lives[who], clocks.0[who]);
                self.sessions[who] = None;
                if who == 0 {
                    self.tickets.clear();
                }
                self.serve(who, *clocks);
            }
            Act::End(who) => {
                self.left.ends -= 1;
                self.boards[who].close(now(who, clocks));
                self.boards[who].reopen(now(who, clocks));
                self.serve(who, *clocks);
            }
            Act::Send(class) => {
                let own = self.boards[0].own_number();
                let peer = self.boards[0].peer().map_or(0, |peer| peer.session.wrapping_sub(own));
                let item = self.next_item;
                let payload = [9, item, own as u8, peer as u8];
                self.left.items -= 1;
                if self.boards[0].send(now(0, clocks), class, &payload).is_ok() {
                    self.tickets.push(item);
                    self.next_item += 1;
                }
                self.serve(0, *clocks);
            }
        }
    }

    /// L1: without further losses, and with fair timers, both are up in one session within a few rounds, and nothing is left to be told.
    fn heals(mut self, mut clocks: Clocks) -> Option<u32> {
        for round in 0..12 {
            for _ in 0..100 {
                let Some(who) = (0..2).find(|&who| !self.wires[who].is_empty()) else { break };
                self.apply(Act::Deliver(who, 0, Copies::None), &mut clocks);
            }
            if self.wires.iter().any(|wire| !wire.is_empty()) {
                return None;
            }
            let open = self.sessions[0].zip(self.sessions[1]);
            let one = open.is_some_and(|((a, b), (c, d))| (a, b) == (d, c));
            let idle = self.boards.iter().all(|board| board.poll_wake().when == When::Idle);
            if one && idle {
                return Some(round);
            }
            for who in 0..2 {
                if self.boards[who].poll_wake().when != When::Idle {
                    self.apply(Act::TimeOut(who), &mut clocks);
                } else {
                    // Without keep-alives a half-open session shows at the next message.
                    let _ = self.boards[who].send(Instant::from_ticks(clocks.0[who]), Class::Notice, &[5]);
                    self.serve(who, clocks);
                }
            }
        }
        None
    }

    fn mark(&self) -> u128 {
        let mut first = DefaultHasher::new();
        self.hash(&mut first);
        let mut second = DefaultHasher::new();
        0x5A_u8.hash(&mut second);
        self.hash(&mut second);
        u128::from(first.finish()) << 64 | u128::from(second.finish())
    }
}

pub struct Found {
    pub states: usize,
    pub depth: u32,
    pub complete: bool,
    /// Rounds of timers that the slowest state takes to heal.
    pub rounds: u32,
}

pub fn explore<F: Framing + Default>(left: Bounds, most: usize) -> Found {
    let start = World::<F>::new(left);
    let mut seen = HashSet::from([start.0.mark()]);
    let mut level = vec![start];
    let mut found = Found { states: 1, depth: 0, complete: true, rounds: 0 };
    while !level.is_empty() {
        let mut next = vec![];
        for (world, clocks) in level {
            for act in world.acts() {
                let (mut later, mut clocks) = (world.clone(), clocks);
                later.apply(act, &mut clocks);
                if !seen.insert(later.mark()) {
                    continue;
                }
                let rounds = later.clone().heals(clocks);
                let rounds = rounds.unwrap_or_else(|| panic!("does not heal after {act:?}: {later:#?}"));
                found.rounds = found.rounds.max(rounds);
                if seen.len() >= most {
                    found.complete = false;
                    return Found { states: seen.len(), ..found };
                }
                next.push((later, clocks));
            }
        }
        found.depth += 1;
        found.states = seen.len();
        level = next;
    }
    found
}
