//! Two links over a hostile line, driven by a list of operations; the oracle is the books (promise P3) and that all settles once the
//! line is whole again.

use bellwire::{
    fcs::Fcs32,
    frame::Class,
    framing::{Cobs, Datagram},
    link::{Config, Link, OwnNumber},
    time::Duration as Span,
};
use bellwire_cli::{
    machine::Machine,
    sim::{
        Action, Board, Books, Carries, Condition, Faults, LineId, Moment, Network, NodeId, Order, Plug, Seed,
        Setup,
        traffic::{Load, Traffic, book},
    },
};
use std::time::Duration;

/// The first octet chooses line and window, the next four the seed; then operations of three octets: what, milliseconds, how much.
///
/// # Panics
/// If a promise is broken or the links never settle.
pub fn link(data: &[u8]) {
    let Some(([choice, seed @ ..], operations)) = data.split_first_chunk::<5>() else { return };
    let mut run = Run::new(*choice, u64::from(u32::from_le_bytes(*seed)));
    for operation in operations.chunks_exact(3).take(64) {
        if let [what, millis, amount] = *operation {
            run.perform(what, amount);
            run.until(run.network.now().plus(Duration::from_millis(u64::from(millis))));
        }
    }
    run.settle();
}

/// How the link of a board is made at its start number so and so.
fn make(ordered: bool, window: u8, side: u32) -> impl FnMut(Moment, u32) -> Box<dyn Machine> {
    move |now, start| {
        let own = OwnNumber::Stored((side << 16) + start * 16);
        let now = now.instant();
        let config = Config { jitter_seed: side + start, ..Config::uart(115_200, own) };
        let radio =
            Config { jitter_seed: side + start, ..Config::datagram(11_520, Span::from_ticks(LIFETIME), own) };
        match (ordered, window) {
            (true, 1) => Box::new(Link::<Cobs, Fcs32, 64, 1, 4>::new(Cobs, config, now)),
            (true, _) => Box::new(Link::<Cobs, Fcs32, 64, 8, 16>::new(Cobs, config, now)),
            (false, 1) => Box::new(Link::<Datagram, Fcs32, 64, 1, 4>::new(Datagram, radio, now)),
            (false, _) => Box::new(Link::<Datagram, Fcs32, 64, 4, 8>::new(Datagram, radio, now)),
        }
    }
}

/// How long a copy of a frame may live on the datagram line, us: its queue, its delay and its lateness.
const LIFETIME: u32 = 120_000;

struct Run {
    ordered: bool,
    network: Network<Board<Traffic>>,
    lines: [LineId; 2],
    books: [Books; 2],
}

impl Run {
    fn new(choice: u8, seed: u64) -> Self {
        let ordered = choice & 1 == 0;
        let window = if choice & 2 == 0 { 1 } else { 8 };
        let seed = Seed(seed);
        let mut network = Network::new(seed);
        let mut board = |side: u32| {
            let load = Load {
                from: Moment::from_millis(5),
                messages: 40,
                pause: Duration::from_millis(8),
                classes: Class::ALL.to_vec(),
                longest: 48,
            };
            let dice = seed.stream(u64::from(100 + side));
            let boot = if ordered { Duration::from_millis(3) } else { Duration::from_millis(10) };
            network.add(Board::new(Traffic::new(load, dice, boot, Box::new(make(ordered, window, side)))))
        };
        let (one, two) = (board(1), board(2));
        let setup = if ordered {
            Setup::uart(115_200)
        } else {
            let delay = Duration::from_millis(2);
            Setup { carries: Carries::Datagrams, delay, queue: 512, ..Setup::uart(115_200) }
        };
        let (out, back) = network.join(Plug::of(one), Plug::of(two), &setup).expect("a line that can be");
        let order = if ordered { Order::Kept } else { Order::NotKept };
        Self { ordered, network, lines: [out, back], books: [Books::new(order), Books::new(order)] }
    }

    fn perform(&mut self, what: u8, amount: u8) {
        let line = self.lines[usize::from(what >> 4 & 1)];
        let node = NodeId(usize::from(what >> 4 & 1));
        let odds = f64::from(amount) / 400.0;
        let action = match what & 7 {
            0 => Action::Lose(line, u32::from(amount & 7)),
            1 => Action::Damage(line, u32::from(amount & 7)),
            2 => Action::Wire(line, Condition::Cut),
            3 => Action::Wire(line, Condition::Whole),
            4 => Action::Wire(line, Condition::Stuck(amount)),
            5 => Action::Restart(node),
            _ => {
                let late_by = Duration::from_millis(60);
                let faults = if self.ordered {
                    Faults {
                        lose: odds,
                        flip: odds / 30.0,
                        drop: odds / 60.0,
                        insert: odds / 60.0,
                        ..Faults::NONE
                    }
                } else {
                    Faults { lose: odds, copy: odds, late: odds, late_by, flip: odds / 30.0, ..Faults::NONE }
                };
                return self.network.set_faults(line, faults).expect("faults that can be");
            }
        };
        self.network.perform(action, &mut |_, _| {});
        self.enter();
    }

    /// Runs on, and books what was journalled at once: a message is accepted before it arrives.
    fn until(&mut self, end: Moment) {
        while self.network.step(end, &mut |_, _| {}).unwrap_or_else(|stalled| panic!("{stalled}")) {
            self.enter();
        }
    }

    fn enter(&mut self) {
        let [out, back] = &mut self.books;
        let one = self.network.node_mut(NodeId(0)).program_mut().take_journal();
        let two = self.network.node_mut(NodeId(1)).program_mut().take_journal();
        let accepted = |journal: &[_]| {
            journal.iter().any(|line| matches!(line, bellwire_cli::sim::traffic::Journal::Accepted { .. }))
        };
        // Within one step at most one board acts, so the order of the two does not matter.
        assert!(!(accepted(&one) && accepted(&two)), "both boards acted in one step");
        assert_eq!(book(&one, out, back) + book(&two, back, out), 0, "damage got past 32 bits of FCS");
    }

    fn settle(&mut self) {
        for line in self.lines {
            self.network.set_faults(line, Faults::NONE).expect("no faults");
            self.network.perform(Action::Wire(line, Condition::Whole), &mut |_, _| {});
        }
        // Losses that were ordered may still be due, one for each OPEN, which come every 30 s at the slowest.
        for _ in 0..3600 {
            self.until(self.network.now().plus(Duration::from_secs(1)));
            if self.network.nodes().all(|board| board.program().is_done()) {
                break;
            }
        }
        let state = |board: &Board<Traffic>| {
            format!(
                "{:?}, {} sent, done: {}, {:?}",
                board.link().state(),
                board.program().sent(),
                board.program().is_done(),
                board.link().poll_wake()
            )
        };
        let states: Vec<_> = self.network.nodes().map(state).collect();
        assert!(self.network.nodes().all(|board| board.program().is_done()), "never settles: {states:#?}");
        // Copies that are still under way must not come back either.
        self.until(self.network.now().plus(Duration::from_secs(2)));
        for books in &self.books {
            assert_eq!(books.breaches_when_settled(), [], "{:?}", books.balance());
        }
    }
}
