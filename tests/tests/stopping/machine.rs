//! A desk, two movers and a hand box on one medium in virtual time, a millisecond a step. The hand box sends the desk a set-point every 50 ms; the desk relays each to both
//! movers when it comes, one by one or to all at once, and repeats none by itself.

use super::mover::Mover;
use bellwire::{
    fcs::Fcs16,
    frame::{Class, Read, Reader},
    framing::{Framing, Lead},
    link::{Config, Event, Message, OwnNumber},
    star::{Address, BroadcastSender, Hub, HubConfig, HubEvent, Leaf, LeafConfig, LeafEvent, Speaks},
    time::{Duration, Instant},
};
use bellwire_tests::seed::{Rng, Seed, seed};
use rand_chacha::rand_core::RngCore as _;

pub(crate) const MS: u32 = 1_000;
/// How long a frame may live on the radio.
pub(crate) const LIFETIME: u32 = 60 * MS;
/// A frame is on its way for so long at least.
pub(crate) const WAY: u32 = 2 * MS;
/// The addresses: dome, focuser, hand box.
pub(crate) const DOME: usize = 0;
pub(crate) const FOCUSER: usize = 1;
pub(crate) const HAND: usize = 2;

/// What happens to frames, in percent, and who is gone.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Faults {
    pub(crate) lost: u32,
    pub(crate) doubled: u32,
    pub(crate) late: u32,
}

struct Flying {
    at: u32,
    from: Option<usize>,
    octets: Vec<u8>,
}

pub(crate) struct Desk<F: Framing> {
    hub: Hub<F, Fcs16, 3, 12, 64>,
    all: BroadcastSender<16, 2>,
    reader: Reader<F, Fcs16, 80>,
}

pub(crate) struct Board<F: Framing> {
    pub(crate) leaf: Leaf<F>,
    pub(crate) mover: Option<Mover>,
    /// Octets that the interrupt has stamped and the program has not taken.
    backlog: Vec<(u32, Vec<u8>)>,
}

pub(crate) struct Machine<F: Framing> {
    pub(crate) now: u32,
    pub(crate) faults: Faults,
    /// Nobody hears anybody.
    pub(crate) silence: bool,
    /// The desk sends to all at once.
    pub(crate) to_all: bool,
    /// The lever of the hand box; `None`: it is switched off.
    pub(crate) lever: Option<i8>,
    pub(crate) desk: Option<Desk<F>>,
    pub(crate) boards: Vec<Board<F>>,
    /// A board whose program hangs: its octets wait, with their stamps.
    pub(crate) hangs: Option<usize>,
    framing: F,
    dice: Rng,
    _seed: Seed,
    flying: Vec<Flying>,
    starts: u32,
    opted_in: bool,
    count: u16,
}

fn at(us: u32) -> Instant {
    Instant::from_ticks(us)
}

impl<F: Framing> Machine<F> {
    pub(crate) fn new(framing: F, name: &str, opted_in: bool) -> Self {
        let seed = seed(name);
        let mut machine = Self {
            now: 0,
            faults: Faults::default(),
            silence: false,
            to_all: false,
            lever: Some(0),
            desk: None,
            boards: vec![],
            hangs: None,
            framing,
            dice: seed.rng(),
            _seed: seed,
            flying: vec![],
            starts: 0,
            opted_in,
            count: 0,
        };
        machine.start_desk();
        machine.boards = (DOME..=HAND).map(|board| machine.board(board)).collect();
        machine
    }

    fn lifetime() -> Duration {
        Duration::from_ticks(if F::ORDERED { 0 } else { LIFETIME })
    }

    /// Own numbers lie so that no two sessions have a number in common.
    fn own(&mut self) -> u32 {
        self.starts += 1;
        self.starts * self.starts * 0x10
    }

    pub(crate) fn start_desk(&mut self) {
        let own = self.own();
        let config = match F::ORDERED {
            true => HubConfig::wire(1_000_000, own),
            false => HubConfig::datagram(100_000, Self::lifetime(), own),
        };
        let mut hub = Hub::new(self.framing.clone(), config, at(self.now));
        (1..=3).for_each(|leaf| assert!(hub.admit(at(self.now), leaf, Speaks::Hub)));
        let all = BroadcastSender::new(self.starts, Self::lifetime());
        self.desk = Some(Desk { hub, all, reader: Reader::new(self.framing.clone()) });
    }

    fn board(&mut self, board: usize) -> Board<F> {
        let own = OwnNumber::Stored(self.own());
        let link = match F::ORDERED {
            true => Config::uart(10_000_000, own),
            false => Config::datagram(100_000, Self::lifetime(), own),
        };
        let address = u8::try_from(board + 1).expect("three boards");
        let config = LeafConfig::new(Config { jitter_seed: self.starts, ..link }, Address::Known(address));
        let message = u8::try_from(board).expect("three boards");
        let mover = (board != HAND).then(|| Mover::new(message, !F::ORDERED, self.opted_in));
        Board { leaf: Leaf::new(self.framing.clone(), config, at(self.now)), mover, backlog: vec![] }
    }

    pub(crate) fn restart_board(&mut self, board: usize) {
        self.boards[board] = self.board(board);
    }

    pub(crate) fn mover(&mut self, board: usize) -> &mut Mover {
        self.boards[board].mover.as_mut().expect("a mover")
    }

    pub(crate) fn below(&mut self, bound: u32) -> u32 {
        self.dice.next_u32() % bound
    }

    fn put_on(&mut self, from: Option<usize>, octets: &[u8]) {
        for copy in 0..2 {
            if copy == 1 && (F::ORDERED || self.below(100) >= self.faults.doubled) {
                return;
            }
            if self.silence || self.below(100) < self.faults.lost {
                continue;
            }
            let is_late = !F::ORDERED && self.below(100) < self.faults.late;
            let late = if is_late { self.below(LIFETIME - 2 * WAY) } else { 0 };
            let at = self.now + WAY + late;
            self.flying.push(Flying { at, from, octets: octets.to_vec() });
        }
    }

    /// One millisecond.
    pub(crate) fn step(&mut self) {
        self.now += MS;
        if let Some(lever) = self.lever.filter(|_| self.now.is_multiple_of(50 * MS)) {
            self.count += 1;
            let [low, high] = self.count.to_le_bytes();
            let now = at(self.now);
            let _ = self.boards[HAND].leaf.send(now, Class::SetPoint, &[2, lever.cast_unsigned(), low, high]);
        }
        let (due, later) =
            std::mem::take(&mut self.flying).into_iter().partition(|frame| frame.at <= self.now);
        self.flying = later;
        let due: Vec<Flying> = due;
        for frame in &due {
            if frame.from.is_some() {
                self.desk_hears(&frame.octets);
            }
            for board in (DOME..=HAND).filter(|board| Some(*board) != frame.from) {
                self.boards[board].backlog.push((frame.at, frame.octets.clone()));
            }
        }
        self.serve_desk(&[]);
        for board in (DOME..=HAND).filter(|board| self.hangs != Some(*board)).collect::<Vec<_>>() {
            self.serve_board(board);
        }
    }

    pub(crate) fn run(&mut self, ms: u32) {
        (0..ms).for_each(|_| self.step());
    }

    fn desk_hears(&mut self, octets: &[u8]) {
        let mut asks = vec![];
        let Some(desk) = &mut self.desk else { return };
        let mut rest = octets;
        while !rest.is_empty() {
            let (done, read) = desk.reader.feed(rest);
            rest = &rest[done..];
            if let Some(Read::Refused { octets: &[0xF0, 0, leaf, 0x17], .. }) = read {
                asks.push(leaf);
            }
        }
        let mut rest = octets;
        while !rest.is_empty() {
            let Some(desk) = &mut self.desk else { return };
            let done = desk.hub.handle_octets(at(self.now), rest);
            rest = &rest[done..];
            self.serve_desk(&asks);
        }
    }

    /// The desk's program: relays what comes from the hand box, once.
    fn serve_desk(&mut self, asks: &[u8]) {
        let now = at(self.now);
        let Some(desk) = &mut self.desk else { return };
        desk.hub.handle_timeout(now);
        let (mut tell, mut relay) = (asks.to_vec(), vec![]);
        while let Some(HubEvent { leaf: Some(leaf), event }) = desk.hub.poll_event() {
            match event {
                Event::Opened(_) => tell.push(leaf),
                Event::Message(Message { payload: &[2, lever, low, high], .. }) => {
                    relay.push([lever, low, high])
                }
                _ => {}
            }
        }
        for [lever, low, high] in relay {
            if self.to_all {
                let _ = desk.all.send(Class::SetPoint, &[4, lever, low, high]);
            } else {
                let _ = desk.hub.send(now, 1, Class::SetPoint, &[0, lever, low, high]);
                let _ = desk.hub.send(now, 2, Class::SetPoint, &[1, lever, low, high]);
            }
        }
        let mut frames: Vec<Vec<u8>> = vec![];
        let mut out = [0; 160];
        for leaf in tell {
            let Some(session) = desk.hub.session(leaf) else { continue };
            let told = desk.all.tell(session);
            let len = told.write::<F, Fcs16>(&self.framing, leaf, Lead::Delimiter, &mut out);
            frames.push(out[..len].to_vec());
        }
        while let Some(sent) = desk.hub.poll_transmit(now, &mut out) {
            frames.push(out[..sent.len].to_vec());
        }
        while let Some(len) = desk.all.poll_transmit::<F, Fcs16>(&self.framing, Lead::Delimiter, &mut out) {
            frames.push(out[..len].to_vec());
        }
        desk.all.elapse(Duration::from_ticks(MS));
        frames.iter().for_each(|frame| self.put_on(None, frame));
    }

    /// A board's program: drains what came, with its stamps, then tells the motor.
    fn serve_board(&mut self, board: usize) {
        let now = self.now;
        let Board { leaf, mover, backlog } = &mut self.boards[board];
        for (stamp, octets) in std::mem::take(backlog) {
            let mut rest = &octets[..];
            while !rest.is_empty() {
                rest = &rest[leaf.handle_octets(at(stamp), rest)..];
                while let Some(event) = leaf.poll_event() {
                    if let Some(mover) = mover.as_mut() {
                        mover.take(&event);
                    }
                }
            }
        }
        leaf.handle_timeout(at(now));
        while let Some(event) = leaf.poll_event() {
            if let (Some(mover), event @ LeafEvent::Link(_)) = (mover.as_mut(), event) {
                mover.take(&event);
            }
        }
        let mut frames: Vec<Vec<u8>> = vec![];
        let mut out = [0; 160];
        while let Some(len) = leaf.poll_transmit(at(now), &mut out) {
            frames.push(out[..len].to_vec());
        }
        if let Some(mover) = mover {
            mover.drive(now);
        }
        frames.iter().for_each(|frame| self.put_on(Some(board), frame));
    }
}
