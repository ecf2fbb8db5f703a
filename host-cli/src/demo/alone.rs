//! The dome alone: somebody else is the desk.

use super::{
    settings::Settings,
    show::START_AZIMUTH,
    station::{BAUD, Before, Ear, Station},
    words,
};
use crate::{
    boards::{Axis, Dome, Shutter},
    clock,
    endpoint::{Chunk, Direction, Endpoint, Item, Note, PortInfo, Source},
    exit::Exit,
    fail::Fail,
    sim::{Board, LineId, Moment, Network, Node, NodeId, Plug, Seen, Setup},
};
use std::{collections::VecDeque, time::Duration};

/// The user's end of the wire.
const US: NodeId = NodeId(0);
/// The dome.
const DOME: NodeId = NodeId(1);
/// The line to the dome.
const THERE: LineId = LineId(0);
/// The line back.
const BACK: LineId = LineId(1);

/// What stands at an end of the wire.
enum Seat {
    /// The user: octets to send.
    Us(VecDeque<Vec<u8>>),
    Dome(Box<Board<Station>>),
}

impl Node for Seat {
    fn arrived(&mut self, now: Moment, port: usize, octets: &[u8]) {
        if let Self::Dome(board) = self {
            board.arrived(now, port, octets);
        }
    }
    fn woken(&mut self, now: Moment) {
        if let Self::Dome(board) = self {
            board.woken(now);
        }
    }
    fn transmit(&mut self, now: Moment, port: usize, unsent: usize, out: &mut Vec<u8>) -> bool {
        match self {
            Self::Us(waiting) => waiting.pop_front().is_some_and(|octets| {
                *out = octets;
                true
            }),
            Self::Dome(board) => board.transmit(now, port, unsent, out),
        }
    }
    fn wake(&self) -> Option<Moment> {
        match self {
            Self::Us(waiting) => (!waiting.is_empty()).then_some(Moment::START),
            Self::Dome(board) => board.wake(),
        }
    }
}

/// The dome over a noisy wire, in real time.
pub(super) struct Alone {
    settings: Settings,
    ports: [PortInfo; 1],
    network: Network<Seat>,
    items: VecDeque<Item>,
    start: u64,
}

impl Alone {
    pub(super) fn new(settings: Settings, port: PortInfo) -> Self {
        let mut network = Network::new(settings.seed);
        let zero = Moment::START.instant();
        let dome = Box::new(Dome::new(Axis::new(START_AZIMUTH, zero), Shutter::closed(zero), zero));
        let station = Station::new(dome, Ear::Far, Before::On, settings.seed.stream(11));
        network.add(Seat::Us(VecDeque::new()));
        network.add(Seat::Dome(Box::new(Board::new(station))));
        let wire = Setup::uart(BAUD).with(settings.noise);
        let joined = network.join(Plug::of(US), Plug::of(DOME), &wire);
        debug_assert_eq!(joined, Ok((THERE, BACK)), "a UART with the noise of a UART can always be made");
        Self { settings, ports: [port], network, items: VecDeque::new(), start: clock::now() }
    }

    /// Lets everything happen that is due by now.
    fn catch_up(&mut self) -> Result<(), Fail> {
        let start = self.start;
        let now = Moment::from_nanos(clock::now().saturating_sub(start));
        let items = &mut self.items;
        let at = |moment: Moment| start.saturating_add(moment.nanos());
        self.network
            .run(now, &mut |moment, seen| {
                let (direction, octets) = match seen {
                    Seen::Sent { line: THERE, octets } => (Direction::Out, octets),
                    Seen::Arrived { line: BACK, octets } => (Direction::In, octets),
                    _ => return,
                };
                items.push_back(Item::Chunk(Chunk {
                    at: at(moment),
                    port: 0,
                    direction,
                    octets: octets.to_vec(),
                }));
            })
            .map_err(|stalled| Fail::new(Exit::Io, format!("the demo is broken: {stalled}")))?;
        if let Seat::Dome(board) = self.network.node_mut(DOME) {
            let station = board.program_mut();
            station.take_journal();
            let notes = station.take_told().into_iter();
            items.extend(notes.map(|(moment, text)| Item::Note(Note { at: at(moment), port: 0, text })));
        }
        Ok(())
    }
}

impl Source for Alone {
    fn next(&mut self, wait: Duration) -> Result<Option<Item>, Fail> {
        let until = clock::now().saturating_add(u64::try_from(wait.as_nanos()).unwrap_or(u64::MAX));
        loop {
            self.catch_up()?;
            if let Some(item) = self.items.pop_front() {
                return Ok(Some(item));
            }
            let now = clock::now();
            let next = self.network.next().map_or(until, |next| self.start.saturating_add(next.nanos()));
            if now >= until {
                return Ok(None);
            }
            std::thread::sleep(Duration::from_nanos(next.min(until).saturating_sub(now)));
        }
    }

    fn ports(&self) -> &[PortInfo] {
        &self.ports
    }

    fn preamble(&self) -> Vec<String> {
        words::alone(&self.settings)
    }
}

impl Endpoint for Alone {
    fn write(&mut self, octets: &[u8]) -> Result<(), Fail> {
        self.catch_up()?;
        if let Seat::Us(waiting) = self.network.node_mut(US) {
            waiting.push_back(octets.to_vec());
        }
        self.catch_up()
    }

    fn unsent(&self) -> usize {
        self.network.unsent(THERE)
    }

    fn present(&self) -> bool {
        true
    }
}
