//! Two boards joined by a line, each with a [`Traffic`].

use bellwire::fcs::{Fcs, Fcs16, Fcs32};
use bellwire::framing::{Cobs, ControlMap, Datagram, Framing, OctetStuffing, RadioBoard, Slip};
use bellwire::link::{Config, Link, OwnNumber};
use bellwire::time::{Duration as Span, Instant};
use bellwire_cli::endpoint::{FcsName, FramingName};
use bellwire_cli::machine::Machine;
use bellwire_cli::sim::traffic::{Load, Traffic, book};
use bellwire_cli::sim::{Board, Books, LineId, Moment, Network, NodeId, Order, Plug, Seed, Seen, Setup};
use core::time::Duration;

/// What a pair is made of.
#[derive(Debug, Clone)]
pub struct Make {
    /// Framing of both links.
    pub framing: FramingName,
    /// FCS of both links.
    pub fcs: FcsName,
    /// Window of both links, 1..=8.
    pub window: usize,
    /// Sendings of a confirmed message before it is called *unknown*.
    pub tries: u8,
    /// Keep-alive period of both links.
    pub keep_alive: Span,
    /// The lines, one each way.
    pub setup: Setup,
    /// What each board sends.
    pub loads: [Load; 2],
    /// Everything random follows from it.
    pub seed: Seed,
}

/// Two boards and their books.
pub struct Pair {
    /// Boards 0 and 1 and their lines.
    pub network: Network<Board<Traffic>>,
    /// From board 0 to board 1.
    pub there: LineId,
    /// From board 1 to board 0.
    pub back: LineId,
    /// Of what each board sent.
    pub books: [Books; 2],
    /// Damaged payloads that got past the FCS.
    pub slipped: u64,
}

impl Pair {
    /// Two boards that are switched on at the start of time.
    ///
    /// # Panics
    /// If the lines cannot be made so, or there is no such window.
    #[must_use]
    pub fn new(make: &Make) -> Self {
        let mut network = Network::new(make.seed);
        for (load, part) in make.loads.iter().zip(100..) {
            network.add(Board::new(traffic(make, load.clone(), part)));
        }
        let [one, other] = [0, 1].map(|node| Plug::of(NodeId(node)));
        let (there, back) = network.join(one, other, &make.setup).unwrap();
        let order = if make.framing.is_unordered() { Order::NotKept } else { Order::Kept };
        let books = [Books::new(order), Books::new(order)];
        Self { network, there, back, books, slipped: 0 }
    }

    /// Lets one event happen, not later than `until`, and books what the boards were told; `false` if there was none.
    ///
    /// # Panics
    /// If a board stops the time.
    pub fn step(&mut self, until: Moment, see: &mut impl FnMut(Moment, Seen<'_>)) -> bool {
        let moved = self.network.step(until, see).unwrap();
        let [one, other] = &mut self.books;
        // One event moves one board only, so the order between both journals does not matter.
        let journal = self.network.node_mut(NodeId(0)).program_mut().take_journal();
        self.slipped += book(&journal, one, other);
        let journal = self.network.node_mut(NodeId(1)).program_mut().take_journal();
        self.slipped += book(&journal, other, one);
        moved
    }

    /// Lets everything happen up to and including `until`.
    pub fn run(&mut self, until: Moment) {
        while self.step(until, &mut |_, _| {}) {}
    }

    /// The program of a board.
    #[must_use]
    pub fn traffic(&self, node: usize) -> &Traffic {
        self.network.node(NodeId(node)).program()
    }

    /// Whether both boards have sent all and were told every outcome.
    #[must_use]
    pub fn is_done(&self) -> bool {
        (0..2).all(|node| self.traffic(node).is_done())
    }
}

fn traffic(make: &Make, load: Load, part: u64) -> Traffic {
    let mut dice = make.seed.stream(part);
    let (own, jitter_seed) = (dice.word(), dice.word() | 1);
    let rate = make.setup.rate;
    let again = make.clone();
    let link = move |now: Moment, starts: u32| {
        // Far more than the sessions between two restarts.
        let own = OwnNumber::Stored(own.wrapping_add(starts.wrapping_mul(1_024)));
        let lifetime = Span::from_ticks(u32::try_from(again.setup.lifetime().as_micros()).unwrap());
        let base = match again.framing {
            FramingName::Datagram | FramingName::RadioBoard => Config::datagram(rate, lifetime, own),
            _ => Config::uart(rate * 10, own),
        };
        let config = Config { tries: again.tries, keep_alive: again.keep_alive, jitter_seed, ..base };
        link(&again, config, now.instant())
    };
    Traffic::new(load, dice, Duration::from_millis(30), Box::new(link))
}

fn link(make: &Make, config: Config, now: Instant) -> Box<dyn Machine> {
    match make.fcs {
        FcsName::Bits16 => framed::<Fcs16>(make, config, now),
        FcsName::Bits32 => framed::<Fcs32>(make, config, now),
    }
}

fn framed<C: Fcs + Send + 'static>(make: &Make, config: Config, now: Instant) -> Box<dyn Machine> {
    match make.framing {
        FramingName::Cobs => windowed::<_, C>(Cobs, make.window, config, now),
        FramingName::OctetStuffing => {
            windowed::<_, C>(OctetStuffing::new(ControlMap(0x000A_0008)), make.window, config, now)
        }
        FramingName::Slip => windowed::<_, C>(Slip, make.window, config, now),
        FramingName::Datagram => windowed::<_, C>(Datagram, make.window, config, now),
        FramingName::RadioBoard => windowed::<_, C>(RadioBoard, make.window, config, now),
    }
}

fn windowed<F, C>(framing: F, window: usize, config: Config, now: Instant) -> Box<dyn Machine>
where
    F: Framing + Send + 'static,
    F::State: Send,
    C: Fcs + Send + 'static,
{
    macro_rules! of {
        ($($window:literal)*) => {
            match window {
                $($window => Box::new(Link::<F, C, 64, $window, { $window + 2 }>::new(framing, config, now)),)*
                _ => panic!("no window of {window}"),
            }
        };
    }
    of!(1 2 3 4 5 6 7 8)
}
