//! One board of a star as a process of its own, for `tests/oracles/star_kills.py` to kill: `star_board ADDRESS LEAVES ENDPOINT BOOKS QUIET`.
//!
//! Address 0 is the hub, the core's [`Hub`]; every other a leaf, an ordinary [`Link`]. Each sends again and again, and writes what it did and heard into the file
//! BOOKS, a line each: `accept`, `delivered`, `unknown`, `not-sent`, `arrive`, each with *from*, *to*, start and count. A message is in the books before its first
//! octet leaves, and an arrival before its acknowledgement does. From when the file QUIET is there nothing new is sent.

use std::{
    collections::HashMap,
    fs::{File, OpenOptions},
    hash::{BuildHasher, Hasher},
    io::Write as _,
    path::Path,
    time::{Duration as StdDuration, Instant as StdInstant},
};

use bellwire::{
    fcs::Fcs16,
    frame::Class,
    framing::{Cobs, Datagram, Framing},
    link::{Config, Event, Link, Outcome, OwnNumber, State},
    star::{Addressed, Hub, HubConfig, Speaks},
    time::{Duration, Instant},
};
use bellwire_cli::{
    args::line::LineArgs,
    endpoint::{Direction, Endpoint, EndpointSpec, Item, LineFormat, Loss},
    talk::open_endpoint,
};

/// Octets per second that the boards count with.
const RATE: u32 = 11_520;
/// How long a copy of a datagram may live: the pass-through holds none longer.
const LIFETIME: Duration = Duration::from_millis(200);
/// The message of all boards, and its pause at each.
const MESSAGE: u8 = 200;
const PAUSE: StdDuration = StdDuration::from_millis(60);

/// What a board hears: from which leaf (0: from the hub), and what.
type Told<'a> = dyn FnMut(u8, &Event<'_>) + 'a;

/// A hub or a leaf.
trait Board {
    fn handle(&mut self, now: Instant, octets: &[u8], told: &mut Told<'_>);
    fn turn(&mut self, now: Instant, told: &mut Told<'_>);
    fn transmit(&mut self, now: Instant, out: &mut [u8]) -> Option<usize>;
    /// Sends to a leaf, or to the hub; the number of the ticket.
    fn send(&mut self, now: Instant, to: u8, payload: &[u8]) -> Option<u16>;
}

impl<F: Framing> Board for Hub<F, Fcs16, 8, 16, 64> {
    fn handle(&mut self, now: Instant, mut octets: &[u8], told: &mut Told<'_>) {
        while !octets.is_empty() {
            octets = octets.get(self.handle_octets(now, octets)..).unwrap_or_default();
            while let Some(it) = self.poll_event() {
                told(it.leaf.unwrap_or(0), &it.event);
            }
        }
    }
    fn turn(&mut self, now: Instant, told: &mut Told<'_>) {
        self.handle_timeout(now);
        while let Some(it) = self.poll_event() {
            told(it.leaf.unwrap_or(0), &it.event);
        }
    }
    fn transmit(&mut self, now: Instant, out: &mut [u8]) -> Option<usize> {
        self.poll_transmit(now, out).map(|transmit| transmit.len)
    }
    fn send(&mut self, now: Instant, to: u8, payload: &[u8]) -> Option<u16> {
        (self.state(to) == State::Up)
            .then(|| Self::send(self, now, to, Class::Errand, payload).ok())
            .flatten()
            .map(|ticket| ticket.get())
    }
}

impl<F: Framing> Board for Link<Addressed<F>, Fcs16> {
    fn handle(&mut self, now: Instant, mut octets: &[u8], told: &mut Told<'_>) {
        while !octets.is_empty() {
            octets = octets.get(self.handle_octets(now, octets)..).unwrap_or_default();
            while let Some(event) = self.poll_event() {
                told(0, &event);
            }
        }
    }
    fn turn(&mut self, now: Instant, told: &mut Told<'_>) {
        self.handle_timeout(now);
        while let Some(event) = self.poll_event() {
            told(0, &event);
        }
    }
    fn transmit(&mut self, now: Instant, out: &mut [u8]) -> Option<usize> {
        self.poll_transmit(now, out)
    }
    fn send(&mut self, now: Instant, _to: u8, payload: &[u8]) -> Option<u16> {
        Self::send(self, now, Class::Report, payload).ok().map(|ticket| ticket.get())
    }
}

/// What is written down.
struct Books {
    file: File,
    own: u8,
    start: u32,
    /// What is under way, by who it is for and ticket.
    under_way: HashMap<(u8, u16), u32>,
}

impl Books {
    fn write(&mut self, what: &str, from: u8, to: u8, start: u32, count: u32) {
        // One write a line: what a killed process wrote is there.
        let line = format!("{what} {from} {to} {start:08x} {count}\n");
        self.file.write_all(line.as_bytes()).expect("the books take it");
    }

    fn note(&mut self, far: u8, event: &Event<'_>) {
        match event {
            Event::Message(message) => {
                let &[MESSAGE, 1, a, b, c, d, e, f, g, h] = message.payload else { panic!("{message:?}") };
                let (start, count) = (u32::from_le_bytes([a, b, c, d]), u32::from_le_bytes([e, f, g, h]));
                self.write("arrive", far, self.own, start, count);
            }
            Event::Outcome { ticket, outcome } => {
                let count = self.under_way.remove(&(far, ticket.get())).expect("it is under way");
                let word = match outcome {
                    Outcome::Delivered => "delivered",
                    Outcome::Unknown => "unknown",
                    Outcome::NotSent(_) => "not-sent",
                };
                self.write(word, self.own, far, self.start, count);
            }
            _ => {}
        }
    }
}

fn random() -> u32 {
    let fresh = std::collections::hash_map::RandomState::new().build_hasher().finish();
    u32::from_le_bytes(*fresh.to_le_bytes().first_chunk().expect("eight octets"))
}

fn run(board: &mut dyn Board, mut line: Box<dyn Endpoint>, books: &mut Books, far: &[u8], quiet: &Path) {
    let start = StdInstant::now();
    let now =
        || Instant::from_ticks(u32::try_from(start.elapsed().as_micros() & 0xFFFF_FFFF).expect("masked"));
    let (mut count, mut due, mut out) = (0_u32, StdInstant::now(), [0; 160]);
    loop {
        if StdInstant::now() >= due && !quiet.exists() {
            due = StdInstant::now() + PAUSE;
            for &to in far {
                count += 1;
                let payload = [&[MESSAGE, 1][..], &books.start.to_le_bytes(), &count.to_le_bytes()].concat();
                if let Some(ticket) = board.send(now(), to, &payload) {
                    books.under_way.insert((to, ticket), count);
                    books.write("accept", books.own, to, books.start, count);
                }
            }
        }
        board.turn(now(), &mut |far, event| books.note(far, event));
        while let Some(len) = board.transmit(now(), &mut out) {
            line.write(&out[..len]).expect("the line stays");
        }
        match line.next(StdDuration::from_millis(3)).expect("the line stays") {
            Some(Item::Chunk(chunk)) if chunk.direction == Direction::In => {
                board.handle(now(), &chunk.octets, &mut |far, event| books.note(far, event));
            }
            _ => {}
        }
    }
}

fn board<F: Framing + 'static>(framing: F, own: u8, leaves: u8) -> Box<dyn Board> {
    let (now, number) = (Instant::from_ticks(0), random());
    if own > 0 {
        let framing = Addressed { framing, own, peer: 0 };
        let number = OwnNumber::Random(number);
        let usual = if F::ORDERED {
            Config::uart(RATE * 10, number)
        } else {
            Config::datagram(RATE, LIFETIME, number)
        };
        return Box::new(Link::<Addressed<F>, Fcs16>::new(
            framing,
            Config { jitter_seed: random() | 1, ..usual },
            now,
        ));
    }
    let usual = if F::ORDERED {
        HubConfig::wire(RATE * 10, number)
    } else {
        HubConfig::datagram(RATE, LIFETIME, number)
    };
    let mut hub =
        Hub::<F, Fcs16, 8, 16, 64>::new(framing, HubConfig { jitter_seed: random() | 1, ..usual }, now);
    for leaf in 1..=leaves {
        hub.admit(now, leaf, Speaks::Hub);
    }
    Box::new(hub)
}

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [own, leaves, endpoint, books, quiet] = &words[..] else {
        eprintln!("usage: star_board ADDRESS LEAVES ENDPOINT BOOKS QUIET");
        std::process::exit(2);
    };
    let (own, leaves): (u8, u8) = (own.parse().expect("an address"), leaves.parse().expect("a number"));
    let spec: EndpointSpec = endpoint.parse().expect("an endpoint");
    let line = LineArgs { rate: RATE * 10, format: LineFormat::default(), frame: Default::default() };
    let mut board = if spec.is_datagram() { board(Datagram, own, leaves) } else { board(Cobs, own, leaves) };
    let line = open_endpoint(&spec, &line, Loss::Wait).expect("the endpoint opens");
    let file = OpenOptions::new().create(true).append(true).open(books).expect("the books open");
    let far: Vec<u8> = if own == 0 { (1..=leaves).collect() } else { vec![0] };
    let mut books = Books { file, own, start: random(), under_way: HashMap::new() };
    books.write("start", own, own, books.start, 0);
    run(&mut *board, line, &mut books, &far, Path::new(quiet));
}
