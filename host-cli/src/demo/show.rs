//! The demo as a listener sees it.

use super::{
    settings::{Length, Pace, Settings},
    station::{BAUD, Before, Ear, Station},
    story::{self, BACK, DESK, DOME, THERE},
    words::{self, Account},
};
use crate::{
    boards::{Axis, Desk, Dome, Shutter},
    clock,
    endpoint::{Chunk, Direction, Item, Note, PortInfo, Source},
    exit::Exit,
    fail::Fail,
    sim::{Board, Books, Moment, Network, Order, Plug, Seen, Setup, traffic::book},
};
use std::{collections::VecDeque, time::Duration};

/// Where the dome points at the start, 0.01°.
pub(super) const START_AZIMUTH: u16 = 18_000;

/// Time of the first instant of a run that is not paced: 2026-01-01, 00:00:01 UTC, ns since the Unix epoch.
const FAST_START: u64 = 1_767_225_601_000_000_000;

/// The demo as a listener at the desk's end of the wire sees it.
pub(super) struct Show {
    settings: Settings,
    ports: [PortInfo; 1],
    network: Network<Board<Station>>,
    books: [Books; 2],
    items: VecDeque<Item>,
    /// Nanoseconds since the Unix epoch at the start of virtual time; set at the first call.
    start: Option<u64>,
    /// When the story told last ends.
    end: Moment,
    is_over: bool,
}

impl Show {
    pub(super) fn new(settings: Settings, port: PortInfo) -> Self {
        let mut network = Network::new(settings.seed);
        let zero = Moment::START.instant();
        let desk = Box::new(Desk::new(zero));
        let dome = Box::new(Dome::new(Axis::new(START_AZIMUTH, zero), Shutter::closed(zero), zero));
        network.add(Board::new(Station::new(desk, Ear::Beside, Before::Off, settings.seed.stream(10))));
        network.add(Board::new(Station::new(dome, Ear::Far, Before::Off, settings.seed.stream(11))));
        let wire = Setup::uart(BAUD).with(settings.noise);
        let joined = network.join(Plug::of(DESK), Plug::of(DOME), &wire);
        debug_assert_eq!(joined, Ok((THERE, BACK)), "a UART with the noise of a UART can always be made");
        story::write(network.script(), Moment::START);
        Self {
            settings,
            ports: [port],
            network,
            books: [Books::new(Order::Kept), Books::new(Order::Kept)],
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
            let chunk = |direction, octets: &[u8]| {
                Item::Chunk(Chunk { at: at(now), port: 0, direction, octets: octets.to_vec() })
            };
            match seen {
                Seen::Sent { line: THERE, octets } => sent.push(chunk(Direction::Out, octets)),
                Seen::Arrived { line: BACK, octets } => items.push_back(chunk(Direction::In, octets)),
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
        let [there, back] = &mut self.books;
        for node in [DESK, DOME] {
            let station = self.network.node_mut(node).program_mut();
            let (out, home) =
                if node == DESK { (&mut *there, &mut *back) } else { (&mut *back, &mut *there) };
            book(&station.take_journal(), out, home);
            let notes = station.take_told().into_iter();
            items.extend(notes.map(|(now, text)| Item::Note(Note { at: at(now), port: 0, text })));
        }
        items.extend(sent);
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

    fn sides(&self) -> Option<[String; 2]> {
        Some(["dome".to_owned(), "desk".to_owned()])
    }

    fn preamble(&self) -> Vec<String> {
        words::preamble(&self.settings)
    }

    fn closing(&mut self) -> Vec<String> {
        words::closing(&Account {
            lasted: self.network.now().since(Moment::START),
            balances: self.books.each_ref().map(Books::balance),
            counted: [THERE, BACK].map(|line| self.network.counted(line)),
            breaches: self.books.iter().flat_map(Books::breaches).collect(),
        })
    }
}
