//! Boards on a radio channel of the virtual-time network, each with a *chance* of its own and Poisson traffic, and one that listens.
//!
//! Who is heard learns it at once by a line of its own, so that answers take no airtime.

use bellwire::{
    star::{Allowance, Chance, Rules, Step},
    time::Duration as Span,
};
use bellwire_cli::sim::{Carries, Dice, MediumId, Moment, Network, Node, Plug, Seed, Setup, Shared};
use core::time::Duration;
use std::collections::BTreeSet;

/// Airtime of a frame, us: ten octets.
pub(crate) const FRAME: u64 = 10_000;

/// How the boards behave.
#[derive(Clone, Copy)]
pub(crate) struct Kind {
    pub(crate) boards: u16,
    /// New frames of all boards in a frame time.
    pub(crate) load: f64,
    /// How long new frames come, in frame times.
    pub(crate) frames: u64,
    pub(crate) listens: bool,
    /// From the look to the first octet, us.
    pub(crate) switch: u64,
    /// The longest random wait, us.
    pub(crate) wait: u64,
    pub(crate) tries: u8,
}

#[derive(Debug, Default, Clone, Copy)]
pub(crate) struct Books {
    pub(crate) wanted: u64,
    pub(crate) delivered: u64,
    pub(crate) lost: u64,
}

pub(crate) struct Station {
    kind: Kind,
    name: u16,
    chance: Chance<4>,
    /// When time last passed for it.
    seen: Moment,
    dice: Dice,
    /// When the next frame comes up; none any more.
    due: Option<Moment>,
    waiting: u64,
    number: u32,
    tried: u8,
    /// When the frame on the air is over, and whether it was heard.
    on_air: Option<(Moment, bool)>,
    books: Books,
}

fn us(ticks: u64) -> Span {
    Span::from_ticks(u32::try_from(ticks).expect("a short span"))
}

impl Station {
    fn new(kind: Kind, name: u16, seed: Seed) -> Self {
        let allowance = Allowance { airtime: 4_000_000_000, slice: us(1_000_000_000) };
        let mut dice = seed.stream(10_000 + u64::from(name));
        let seed = dice.word() | 1;
        let rules = Rules { wait: us(kind.wait), doublings: 5, looks: 200, resends: 255, allowance, seed };
        let chance = Chance::new(rules);
        let mut station = Self {
            kind,
            name,
            chance,
            seen: Moment::START,
            dice,
            due: None,
            waiting: 0,
            number: 0,
            tried: 0,
            on_air: None,
            books: Books::default(),
        };
        station.draw(Moment::START);
        station
    }

    /// Draws the next frame's moment, whole microseconds.
    fn draw(&mut self, after: Moment) {
        let mean = FRAME as f64 * f64::from(self.kind.boards) / self.kind.load;
        let pause = Duration::from_micros((mean * self.dice.exponential()).round() as u64);
        let end = Moment::from_micros(self.kind.frames * FRAME);
        self.due = Some(after.plus(pause)).filter(|due| *due < end);
    }

    fn elapse(&mut self, now: Moment) {
        let span = u64::try_from(now.since(self.seen).as_micros()).expect("short");
        self.chance.elapse(us(span));
        self.seen = self.seen.plus(Duration::from_micros(span));
    }

    /// Wants to send what waits first.
    fn want(&mut self) {
        if self.waiting > 0 && self.on_air.is_none() && self.chance.poll() == Step::Idle {
            assert!(self.chance.want(us(FRAME), self.tried));
        }
    }

    /// The frame on the air is over.
    fn over(&mut self, heard: bool) {
        self.on_air = None;
        self.tried += 1;
        if heard || self.tried == self.kind.tries {
            *(if heard { &mut self.books.delivered } else { &mut self.books.lost }) += 1;
            self.waiting -= 1;
            self.number += 1;
            self.tried = 0;
        }
    }
}

impl Node for Station {
    fn ports(&self) -> usize {
        2
    }

    /// Its own number, by the line from the listener: the frame was heard.
    fn arrived(&mut self, _now: Moment, port: usize, octets: &[u8]) {
        assert_eq!((port, octets), (1, &self.number.to_le_bytes()[..]));
        if let Some((_, heard)) = &mut self.on_air {
            *heard = true;
        }
    }

    fn woken(&mut self, now: Moment) {
        self.elapse(now);
        if let Some((_, heard)) = self.on_air.filter(|(over, _)| *over <= now) {
            self.over(heard);
        }
        if let Some(due) = self.due.filter(|due| *due <= now) {
            self.books.wanted += 1;
            self.waiting += 1;
            self.draw(due);
        }
        self.want();
    }

    fn looks(&mut self, now: Moment, port: usize, busy: bool) {
        self.elapse(now);
        if port == 0 && self.chance.poll() == Step::Look {
            self.chance.looked(!busy);
        }
    }

    fn transmit(&mut self, now: Moment, port: usize, _unsent: usize, out: &mut Vec<u8>) -> bool {
        if port != 0 || self.chance.poll() != Step::Send {
            return false;
        }
        self.chance.sent();
        // A microsecond later whoever was heard knows it.
        self.on_air = Some((now.plus(Duration::from_micros(self.kind.switch + FRAME + 1)), false));
        out.extend(self.name.to_le_bytes());
        out.extend(self.number.to_le_bytes());
        out.resize(10, 0xA5);
        true
    }

    fn wake(&self) -> Option<Moment> {
        let chance = match self.chance.poll() {
            Step::Wait(left) => Some(self.seen.plus(Duration::from_micros(left.as_ticks().into()))),
            Step::Look | Step::Send => Some(self.seen),
            Step::Idle => None,
        };
        [chance, self.due, self.on_air.map(|(over, _)| over)].into_iter().flatten().min()
    }
}

/// Hears the channel, and tells each board of the frames that came whole.
#[derive(Default)]
pub(crate) struct Listener {
    boards: u16,
    answers: Vec<(u16, [u8; 4])>,
    heard: BTreeSet<(u16, u32)>,
    /// When each frame came.
    pub(crate) times: Vec<Moment>,
}

impl Node for Listener {
    fn ports(&self) -> usize {
        1 + usize::from(self.boards)
    }
    fn arrived(&mut self, now: Moment, _port: usize, octets: &[u8]) {
        let (name, number) = octets.split_first_chunk::<2>().expect("ten octets");
        let (name, number) = (u16::from_le_bytes(*name), *number.first_chunk::<4>().expect("ten octets"));
        assert!(self.heard.insert((name, u32::from_le_bytes(number))), "who is heard does not send it again");
        self.answers.push((name, number));
        self.times.push(now);
    }
    fn woken(&mut self, _now: Moment) {}
    fn transmit(&mut self, _now: Moment, port: usize, _unsent: usize, out: &mut Vec<u8>) -> bool {
        let Some(place) = self.answers.iter().position(|(name, _)| usize::from(*name) + 1 == port) else {
            return false;
        };
        out.extend(self.answers.remove(place).1);
        true
    }
    fn wake(&self) -> Option<Moment> {
        None
    }
}

pub(crate) enum Any {
    Station(Box<Station>),
    Listener(Listener),
}

macro_rules! either {
    ($self:expr, $node:ident => $do:expr) => {
        match $self {
            Any::Station($node) => $do,
            Any::Listener($node) => $do,
        }
    };
}

impl Node for Any {
    fn ports(&self) -> usize {
        either!(self, node => node.ports())
    }
    fn arrived(&mut self, now: Moment, port: usize, octets: &[u8]) {
        either!(self, node => node.arrived(now, port, octets));
    }
    fn woken(&mut self, now: Moment) {
        either!(self, node => node.woken(now));
    }
    fn looks(&mut self, now: Moment, port: usize, busy: bool) {
        either!(self, node => node.looks(now, port, busy));
    }
    fn transmit(&mut self, now: Moment, port: usize, unsent: usize, out: &mut Vec<u8>) -> bool {
        either!(self, node => node.transmit(now, port, unsent, out))
    }
    fn wake(&self) -> Option<Moment> {
        either!(self, node => node.wake())
    }
}

/// What one run gave.
pub(crate) struct Gave {
    pub(crate) books: Books,
    /// When each frame came whole.
    pub(crate) times: Vec<Moment>,
    pub(crate) sendings: u64,
    pub(crate) collided: u64,
}

/// Runs all boards until every frame has its end.
pub(crate) fn run(kind: Kind, seed: u64) -> Gave {
    let seed = Seed(seed);
    let mut network = Network::new(seed);
    let line = Shared::radio(u32::try_from(10_000_000 / FRAME).expect("slow")).line;
    let switch = Duration::from_micros(kind.switch);
    let air: MediumId =
        network.share(Shared { line, switch, listens: kind.listens, ..Shared::radio(1) }).expect("sound");
    // A thousand lines more would only slow it down: boards without a second try do not need to know.
    let answers = kind.boards <= 100;
    let boards = if answers { kind.boards } else { 0 };
    let listener = network.add(Any::Listener(Listener { boards, ..Listener::default() }));
    network.attach(air, Plug::of(listener));
    for name in 0..kind.boards {
        let node = network.add(Any::Station(Box::new(Station::new(kind, name, seed))));
        network.attach_sender(air, Plug::of(node));
        if answers {
            let fast = Setup { carries: Carries::Datagrams, ..Setup::uart(1_000_000_000) };
            let from = Plug { node: listener, port: usize::from(name) + 1 };
            network.connect(from, Plug { node, port: 1 }, fast).expect("sound");
        }
    }
    network.run(Moment::from_micros(4 * kind.frames * FRAME), &mut |_, _| {}).expect("time goes on");
    let mut sum = Books::default();
    let mut heard = Vec::new();
    for node in network.nodes() {
        match node {
            Any::Station(station) => {
                let Books { wanted, delivered, lost } = station.books;
                assert_eq!((wanted, station.waiting), (delivered + lost, 0), "board {}", station.name);
                sum.wanted += wanted;
                sum.delivered += delivered;
                sum.lost += lost;
            }
            Any::Listener(listener) => heard.clone_from(&listener.times),
        }
    }
    let talked = network.talked(air);
    assert_eq!(heard.len() as u64, talked.writes - talked.collided, "what does not collide is heard");
    if answers {
        assert_eq!(heard.len() as u64, sum.delivered);
    }
    Gave { books: sum, times: heard, sendings: talked.writes, collided: talked.collided }
}
