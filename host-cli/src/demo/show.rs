//! The demo as a listener sees it.

use super::{
    seat::{Field, Seat, strength},
    settings::{Length, Pace, Settings},
    station::{self, AIR, BAUD, Before, Ear, Station},
    story::{self, BACK, DESK, DESK_EAR, DOME, FOCUSER, FROM_FOCUSER, MAST, PORCH, THERE, TO_FOCUSER},
    words::{self, Account, LEAVES},
};
use crate::{
    boards::{Axis, Desk, Dome, Focuser, LineTo, Role, Shutter, Sleeper},
    clock,
    endpoint::{Chunk, Direction, Item, Note, PortInfo, Source},
    exit::Exit,
    fail::Fail,
    sim::{
        Board, Books, Faults, Moment, Network, NodeId, Order, Plug, Seen, Setup, Shared, profile,
        traffic::book,
    },
};
use bellwire::framing::{Air, air};
use std::{collections::VecDeque, time::Duration};

/// Where the dome points at the start, 0.01°.
pub(super) const START_AZIMUTH: u16 = 18_000;

/// Time of the first instant of a run that is not paced: 2026-01-01, 00:00:01 UTC, ns since the Unix epoch.
const FAST_START: u64 = 1_767_225_601_000_000_000;

/// The leaves, in the order of [`LEAVES`], and the port of the desk that each is reached by.
const NODES: [(NodeId, u16); LEAVES.len()] = [(DOME, 0), (FOCUSER, 1), (MAST, RADIO), (PORCH, RADIO)];
/// The port of the radio board.
const RADIO: u16 = 2;

/// The demo as a listener at the desk's end of the wires sees it.
pub(super) struct Show {
    settings: Settings,
    ports: [PortInfo; 3],
    network: Network<Seat>,
    /// Of each leaf: from the desk, and to it.
    books: [[Books; 2]; LEAVES.len()],
    items: VecDeque<Item>,
    /// Nanoseconds since the Unix epoch at the start of virtual time; set at the first call.
    start: Option<u64>,
    /// When the story told last ends.
    end: Moment,
    is_over: bool,
}

/// The desk and its leaves, joined.
fn network(settings: &Settings) -> Network<Seat> {
    let mut network = Network::new(settings.seed);
    let zero = Moment::START.instant();
    let station = |role: Box<dyn Role + Send>, ear, dice| {
        Station::new(role, ear, Before::Off, settings.seed.stream(dice))
    };
    let beside = |role, dice| station(role, Ear::Beside, dice);
    let far = |role, dice| station(role, Ear::Far, dice);
    let line_to = |leaf, sleeps| Box::new(LineTo::new(leaf, sleeps, zero));
    network.add(Seat::Desk(Box::new([
        Board::new(beside(Box::new(Desk::new(zero)), 10)),
        Board::new(beside(line_to("focuser", false), 12)),
        Board::new(beside(line_to("mast", true), 14).by_radio(0, station::MAST)),
        Board::new(beside(line_to("porch", true), 16).by_radio(0, station::PORCH)),
    ])));
    let dome = Box::new(Dome::new(Axis::new(START_AZIMUTH, zero), Shutter::closed(zero), zero));
    network.add(Seat::Wired(Box::new(Board::new(far(dome, 11)))));
    network.add(Seat::Wired(Box::new(Board::new(far(Box::new(Focuser::new(10_000, zero)), 13)))));
    for (role, address, dice) in
        [(Sleeper::mast(zero), station::MAST, 15), (Sleeper::porch(zero), station::PORCH, 17)]
    {
        let board = Board::new(far(Box::new(role), dice).by_radio(address, 0));
        network.add(Seat::Field(Box::new(Field::new(board))));
    }
    let wire = Setup::uart(BAUD).with(settings.noise);
    let joined = [(0, DOME), (1, FOCUSER)]
        .map(|(port, leaf)| network.join(Plug { node: DESK, port }, Plug::of(leaf), &wire));
    debug_assert_eq!(joined, [Ok((THERE, BACK)), Ok((TO_FOCUSER, FROM_FOCUSER))], "UARTs can always be made");
    let faults = if settings.noise == Faults::NONE { Faults::NONE } else { profile::FIELD };
    let mut air = Shared::radio(AIR);
    air.line = air.line.with(faults);
    if let Ok(air) = network.share(air) {
        let ear = network.attach(air, Plug { node: DESK, port: usize::from(RADIO) });
        debug_assert_eq!(ear, DESK_EAR, "the fifth line");
        for leaf in [MAST, PORCH] {
            network.attach(air, Plug::of(leaf));
        }
    }
    network
}

impl Show {
    pub(super) fn new(settings: Settings, ports: [PortInfo; 3]) -> Self {
        let mut network = network(&settings);
        story::write(network.script(), Moment::START);
        let books = NODES.map(|(_, port)| {
            let order = if port == RADIO { Order::NotKept } else { Order::Kept };
            [Books::new(order), Books::new(order)]
        });
        Self {
            settings,
            ports,
            network,
            books,
            items: VecDeque::new(),
            start: None,
            end: Moment::from_millis(story::LENGTH),
            is_over: false,
        }
    }

    fn start(&mut self) -> u64 {
        let now = match self.settings.pace {
            Pace::Real => clock::now(),
            Pace::Fast => FAST_START,
        };
        *self.start.get_or_insert(now)
    }

    /// Lets one event happen and keeps what a listener gets from it.
    fn step(&mut self) -> Result<(), Fail> {
        let start = self.start();
        let at = |now: Moment| start.saturating_add(now.nanos());
        let items = &mut self.items;
        // What a board says explains what it sends: it stands before.
        let mut sent = Vec::new();
        let mut see = |now: Moment, seen: Seen<'_>| {
            let chunk = |port, direction, octets: &[u8]| {
                Item::Chunk(Chunk { at: at(now), port, direction, octets: octets.to_vec() })
            };
            match seen {
                Seen::Sent { line: THERE, octets } => sent.push(chunk(0, Direction::Out, octets)),
                Seen::Arrived { line: BACK, octets } => items.push_back(chunk(0, Direction::In, octets)),
                Seen::Sent { line: TO_FOCUSER, octets } => sent.push(chunk(1, Direction::Out, octets)),
                Seen::Arrived { line: FROM_FOCUSER, octets } => {
                    items.push_back(chunk(1, Direction::In, octets));
                }
                // The radio board's UART, on which each datagram travels in a frame of its layer (W-63).
                Seen::Talked { from: Plug { node: DESK, .. }, octets: datagram, .. } => {
                    let answer = Air::Sent { at: board_clock(now), tail: air::tail_of(datagram) };
                    sent.push(chunk(RADIO, Direction::Out, &on_the_uart(Air::Send { datagram })));
                    sent.push(chunk(RADIO, Direction::In, &on_the_uart(answer)));
                }
                Seen::Arrived { line: DESK_EAR, octets: datagram } => {
                    let strength = strength(datagram, now);
                    let heard = Air::Heard { at: board_clock(now), strength, datagram };
                    items.push_back(chunk(RADIO, Direction::In, &on_the_uart(heard)));
                }
                Seen::Done(action) => {
                    if let Some(text) = story::said(action) {
                        items.push_back(Item::Note(Note { at: at(now), port: 0, text: text.to_owned() }));
                    }
                }
                _ => {}
            }
        };
        let moved = self
            .network
            .step(self.end, &mut see)
            .map_err(|stalled| Fail::new(Exit::Io, format!("the demo is broken: {stalled}")))?;
        self.account(start);
        self.items.extend(sent);
        if !moved {
            match self.settings.length {
                Length::Once => self.is_over = true,
                Length::Endless => {
                    story::write(self.network.script(), self.end);
                    self.end = self.end.plus(Duration::from_millis(story::LENGTH));
                }
            }
        }
        Ok(())
    }

    /// Enters into the books what the boards did, and takes what they say of themselves.
    fn account(&mut self, start: u64) {
        for (index, (node, port)) in NODES.into_iter().enumerate() {
            let [there, back] = &mut self.books[index];
            // The desk has a program for each leaf, a leaf has one.
            for (node, place) in [(DESK, index), (node, 0)] {
                let mut programs = self.network.node_mut(node).programs();
                let station = &mut programs[place];
                let (out, home) =
                    if node == DESK { (&mut *there, &mut *back) } else { (&mut *back, &mut *there) };
                book(&station.take_journal(), out, home);
                let notes = station.take_told().into_iter();
                self.items.extend(notes.map(|(now, text)| {
                    let at = start.saturating_add(now.nanos());
                    Item::Note(Note { at, port, text })
                }));
            }
        }
    }

    /// How long to sleep until the next event is due.
    fn until_next(&mut self) -> Duration {
        let start = self.start();
        if self.settings.pace == Pace::Fast {
            return Duration::ZERO;
        }
        let next = self.network.next().unwrap_or(self.end).min(self.end);
        Duration::from_nanos(start.saturating_add(next.nanos()).saturating_sub(clock::now()))
    }
}

impl Source for Show {
    fn next(&mut self, wait: Duration) -> Result<Option<Item>, Fail> {
        let mut left = wait;
        loop {
            if let Some(item) = self.items.pop_front() {
                return Ok(Some(item));
            }
            if self.is_over {
                return Ok(Some(Item::End));
            }
            let nap = self.until_next();
            if nap > left {
                std::thread::sleep(left);
                return Ok(None);
            }
            std::thread::sleep(nap);
            left = left.saturating_sub(nap);
            self.step()?;
        }
    }

    fn ports(&self) -> &[PortInfo] {
        &self.ports
    }

    fn is_live(&self) -> bool {
        self.settings.pace == Pace::Real
    }

    fn preamble(&self) -> Vec<String> {
        words::preamble(&self.settings)
    }

    fn closing(&mut self) -> Vec<String> {
        words::closing(&Account {
            lasted: self.network.now().since(Moment::START),
            balances: self.books.each_ref().map(|books| books.each_ref().map(Books::balance)),
            counted: [THERE, BACK].map(|line| self.network.counted(line)),
            breaches: self.books.iter().flatten().flat_map(Books::breaches).collect(),
        })
    }
}

/// The radio board's clock, µs.
fn board_clock(now: Moment) -> u32 {
    u32::try_from(now.nanos() / 1_000 % (1 << 32)).unwrap_or(0)
}

/// A frame of the radio board's layer as it goes over its UART.
fn on_the_uart(frame: Air<'_>) -> Vec<u8> {
    let mut octets = [0; 320];
    let len = frame.encode(&mut octets).unwrap_or(0);
    octets.get(..len).unwrap_or_default().to_vec()
}
