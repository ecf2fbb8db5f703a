//! Two links in virtual time, for the tests of this folder. Bare on purpose: the full network is the tool's.
#![allow(dead_code, unreachable_pub, missing_docs, clippy::cast_possible_truncation)]

use bellwire::{
    fcs::Fcs16,
    frame::{Class, Kind, Read, Reader, Reject},
    framing::{Cobs, Framing},
    link::{Config, EndReason, Event, Link, Outcome, OwnNumber, Peer, SendError, State, Terms, Ticket, When},
    time::{Duration, Instant},
};

/// Octets per second of the virtual line: 115 200 Bd.
pub const RATE: u32 = 11_520;

/// An event that owns what it tells.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Told {
    Opened(Peer),
    Quiet,
    Resumed,
    Ended(EndReason),
    Mismatch(Terms, Terms),
    Message { class: Class, number: u8, payload: Vec<u8>, missed: u8, arrived: Instant },
    Outcome(Ticket, Outcome),
    Resent(Ticket, u8),
    Text(Vec<u8>),
    Refused(Reject),
    ProbeAnswer { id: u16, round_trip: u32 },
    Statistics,
}

impl From<Event<'_>> for Told {
    fn from(event: Event<'_>) -> Self {
        match event {
            Event::Opened(peer) => Self::Opened(peer),
            Event::Quiet => Self::Quiet,
            Event::Resumed => Self::Resumed,
            Event::Ended(reason) => Self::Ended(reason),
            Event::Mismatch { ours, theirs } => Self::Mismatch(ours, theirs),
            Event::Message(message) => Self::Message {
                class: message.class,
                number: message.number,
                payload: message.payload.to_vec(),
                missed: message.missed,
                arrived: message.arrived,
            },
            Event::Outcome { ticket, outcome } => Self::Outcome(ticket, outcome),
            Event::Resent { ticket, tries } => Self::Resent(ticket, tries),
            Event::Text(text) => Self::Text(text.to_vec()),
            Event::Refused(reject) => Self::Refused(reject),
            Event::ProbeAnswer { id, round_trip } => {
                Self::ProbeAnswer { id, round_trip: round_trip.as_ticks() }
            }
            Event::PeerStatistics(_) => Self::Statistics,
        }
    }
}

/// One of the two boards.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Who {
    Desk,
    Dome,
}

impl Who {
    pub const BOTH: [Self; 2] = [Self::Desk, Self::Dome];

    pub fn other(self) -> Self {
        if self == Self::Desk { Self::Dome } else { Self::Desk }
    }
}

/// A frame that was sent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sent {
    /// Microseconds since the start.
    pub at: u64,
    pub from: Who,
    pub kind: Kind,
    pub number: u8,
    /// An asking OPEN.
    pub ask: bool,
    /// Octets on the wire.
    pub wire: Vec<u8>,
}

/// What the line does with a frame: one delay, µs, for each copy that arrives. Empty: lost.
pub type Fate = Vec<u64>;

/// The line: told the count of frames before, and the frame.
pub type Line = Box<dyn FnMut(usize, &Sent) -> Fate>;

pub type Board<F, const W: usize, const Q: usize> = Link<F, Fcs16, 64, W, Q>;

pub struct Pair<F: Framing = Cobs, const W: usize = 1, const Q: usize = 4> {
    pub origin: u32,
    /// Microseconds since the start.
    pub now: u64,
    pub links: [Board<F, W, Q>; 2],
    configs: [Config; 2],
    framing: F,
    /// What each was told, with the time.
    pub told: [Vec<(u64, Told)>; 2],
    pub sent: Vec<Sent>,
    air: Vec<(u64, usize, Who, Vec<u8>)>,
    free: [u64; 2],
    pub line: Line,
    /// Calls of `poll_wake` since time last moved: a link that spins is found out.
    rounds: u32,
}

/// A configuration without random parts, at [`RATE`].
pub fn config(own: u32) -> Config {
    Config { jitter_seed: 0, identity: u64::from(own), ..Config::uart(RATE * 10, OwnNumber::Stored(own)) }
}

/// Nothing is lost or late.
pub fn perfect() -> Line {
    Box::new(|_, _| vec![0])
}

impl<const W: usize, const Q: usize> Pair<Cobs, W, Q> {
    /// Desk and dome on a perfect UART, time starting at `origin`.
    pub fn at(origin: u32) -> Self {
        Self::new(Cobs, [config(1_000), config(2_000)], origin)
    }

    /// The same, with the session open and nothing left to tell.
    pub fn opened() -> Self {
        let mut pair = Self::at(0);
        pair.run(20_000);
        assert!(pair.is_up(), "{:?}", pair.told);
        pair.forget();
        pair
    }
}

impl<F: Framing, const W: usize, const Q: usize> Pair<F, W, Q> {
    pub fn new(framing: F, configs: [Config; 2], origin: u32) -> Self {
        let link = |config| Link::new(framing.clone(), config, Instant::from_ticks(origin));
        Self {
            origin,
            now: 0,
            links: configs.map(link),
            configs,
            framing,
            told: [vec![], vec![]],
            sent: vec![],
            air: vec![],
            free: [0; 2],
            line: perfect(),
            rounds: 0,
        }
    }

    /// Virtual time as the links see it.
    pub fn instant(&self) -> Instant {
        Instant::from_ticks(self.origin.wrapping_add(self.now as u32))
    }

    pub fn link(&mut self, who: Who) -> &mut Board<F, W, Q> {
        &mut self.links[who as usize]
    }

    pub fn is_up(&self) -> bool {
        self.links.iter().all(|link| link.state() == State::Up)
    }

    /// Forgets what was sent and told so far.
    pub fn forget(&mut self) {
        self.told = [vec![], vec![]];
        self.sent.clear();
    }

    /// What a board was told, without times.
    pub fn told(&self, who: Who) -> Vec<Told> {
        self.told[who as usize].iter().map(|(_, told)| told.clone()).collect()
    }

    /// Payloads of the messages of a class that a board was given.
    pub fn got(&self, who: Who, class: Class) -> Vec<Vec<u8>> {
        let of_class = |told: Told| match told {
            Told::Message { class: got, payload, .. } if got == class => Some(payload),
            _ => None,
        };
        self.told(who).into_iter().filter_map(of_class).collect()
    }

    /// The outcomes a board was told.
    pub fn outcomes(&self, who: Who) -> Vec<(u16, Outcome)> {
        let outcome = |told: Told| match told {
            Told::Outcome(ticket, outcome) => Some((ticket.get(), outcome)),
            _ => None,
        };
        self.told(who).into_iter().filter_map(outcome).collect()
    }

    pub fn kinds(&self) -> Vec<(Who, Kind)> {
        self.sent.iter().map(|sent| (sent.from, sent.kind)).collect()
    }

    /// A board sends a message; the law is kept.
    pub fn send(&mut self, who: Who, class: Class, payload: &[u8]) -> Result<Ticket, SendError> {
        let now = self.instant();
        let ticket = self.link(who).send(now, class, payload);
        self.drain(who);
        ticket
    }

    /// A board starts anew with another own number; octets in its buffers are lost.
    pub fn restart(&mut self, who: Who, own: u32) {
        self.configs[who as usize].own = OwnNumber::Stored(own);
        let link = Link::new(self.framing.clone(), self.configs[who as usize], self.instant());
        *self.link(who) = link;
        self.drain(who);
    }

    /// Drains events, then frames, and checks that nothing is left and nothing spins.
    pub fn drain(&mut self, who: Who) {
        self.drain_events(who);
        self.transmit(who);
        let link = &mut self.links[who as usize];
        assert!(link.poll_event().is_none(), "an event came from poll_transmit");
        self.rounds += 1;
        assert!(
            self.rounds < 10_000,
            "{who:?} spins at {}: {:?}",
            self.now,
            self.links[who as usize].poll_wake()
        );
    }

    fn drain_events(&mut self, who: Who) {
        while let Some(event) = self.links[who as usize].poll_event() {
            self.told[who as usize].push((self.now, Told::from(event)));
        }
    }

    fn transmit(&mut self, who: Who) {
        let now = self.instant();
        let rate = u64::from(self.configs[who as usize].octet_rate);
        let mut out = [0; 200];
        while let Some(len) = self.link(who).poll_transmit(now, &mut out) {
            let octets = &out[..len];
            let sent = self.read(who, octets);
            let begin = self.free[who as usize].max(self.now);
            let octet_times = |octets: usize| (octets as u64 * 1_000_000).div_ceil(rate);
            let left = begin + octet_times(len);
            self.free[who as usize] = left;
            let fate = (self.line)(self.sent.len(), &sent);
            for (copy, delay) in fate.into_iter().enumerate() {
                let order = self.sent.len() * 8 + copy;
                self.air.push((left + delay, order, who.other(), octets.to_vec()));
            }
            self.sent.push(sent);
        }
    }

    fn read(&self, from: Who, wire: &[u8]) -> Sent {
        let mut reader = Reader::<F, Fcs16, 256>::new(self.framing.clone());
        let (_, read) = reader.feed(wire);
        let Some(Read::Frame(view)) = read else { panic!("sent {wire:02X?}: {read:?}") };
        let ask = view.open().is_some_and(|open| open.ask);
        Sent {
            at: self.now,
            from,
            kind: view.header.kind,
            number: view.header.number,
            ask,
            wire: wire.to_vec(),
        }
    }

    /// A board receives octets now.
    pub fn feed(&mut self, who: Who, octets: &[u8]) {
        let now = self.instant();
        let mut rest = octets;
        loop {
            let done = self.link(who).handle_octets(now, rest);
            rest = &rest[done..];
            self.drain(who);
            if rest.is_empty() {
                return;
            }
        }
    }

    /// The time of the next thing to happen.
    fn next(&self) -> Option<u64> {
        let wakes = self.links.iter().filter_map(|link| match link.poll_wake().when {
            When::Now => Some(self.now),
            When::At(at) => {
                let span = at.as_ticks().wrapping_sub(self.instant().as_ticks());
                assert!(span < 1 << 31, "a wake-up in the past");
                Some(self.now + u64::from(span))
            }
            When::Idle => None,
        });
        wakes.chain(self.air.iter().map(|flying| flying.0)).min()
    }

    /// Runs for `span` µs.
    pub fn run(&mut self, span: u64) {
        let end = self.now + span;
        Who::BOTH.into_iter().for_each(|who| self.drain(who));
        while let Some(at) = self.next().filter(|&at| at <= end) {
            self.step(at);
        }
        self.pass(end);
    }

    /// Goes to the next thing that happens, and lets it happen. `false`: nothing ever will.
    pub fn step_once(&mut self) -> bool {
        Who::BOTH.into_iter().for_each(|who| self.drain(who));
        let Some(at) = self.next() else { return false };
        self.step(at);
        true
    }

    fn pass(&mut self, at: u64) {
        if at > self.now {
            self.rounds = 0;
        }
        self.now = at;
    }

    fn step(&mut self, at: u64) {
        self.pass(at);
        self.air.sort_by_key(|flying| (flying.0, flying.1));
        while self.air.first().is_some_and(|flying| flying.0 <= at) {
            let (_, _, to, octets) = self.air.remove(0);
            self.feed(to, &octets);
        }
        let now = self.instant();
        for who in Who::BOTH {
            if self.links[who as usize].poll_wake().when == When::Now
                || self.links[who as usize].poll_wake().when == When::At(now)
            {
                self.link(who).handle_timeout(now);
                self.drain(who);
            }
        }
    }

    /// Frames on their way.
    pub fn in_flight(&self) -> usize {
        self.air.len()
    }
}

/// A span in µs.
pub fn us(ticks: u32) -> Duration {
    Duration::from_ticks(ticks)
}
