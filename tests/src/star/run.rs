//! One run of a star, from the start to books that are closed.

use super::{LEAVES, Make, Medium, POOL, QUEUE, Sum, board::Any, desk::Desk, leaf::leaf};
use bellwire::{
    framing::{Cobs, Datagram, Framing},
    link::State,
};
use bellwire_cli::sim::{
    Balance, Books, Faults, LineId, Moment, Network, NodeId, Order, Plug, Seed,
    traffic::{Journal, book},
};
use core::{sync::atomic::Ordering, time::Duration};

/// How often the journals are booked, ms of virtual time.
const SLICE: u64 = 10;
/// After so many milliseconds without faults all must be settled: the longest pause between two openings is 45 s, and a give-up takes less.
const SETTLED: u64 = 120_000;

struct Star<F: Framing> {
    make: Make,
    network: Network<Any<F>>,
    lines: Vec<LineId>,
    /// Of each leaf, what it sent and what the hub sent to it.
    books: Vec<[Books; 2]>,
    restarts: [u64; 2],
}

/// Runs a star.
///
/// # Errors
/// In words, if a promise was broken.
pub fn run(make: &Make) -> Result<Sum, String> {
    assert!((1..=LEAVES).contains(&usize::from(make.leaves)), "1 to 250 leaves");
    match make.medium {
        Medium::Wire => Star::new(make, Cobs).run(),
        Medium::Radio => Star::new(make, Datagram).run(),
    }
}

impl<F: Framing> Star<F> {
    fn new(make: &Make, framing: F) -> Self {
        let mut network = Network::new(Seed(make.seed));
        let desk = network.add(Any::Desk(Box::new(Desk::new(make, framing))));
        let mut lines = Vec::new();
        let order = if F::ORDERED { Order::Kept } else { Order::NotKept };
        let mut books = Vec::new();
        for own in 1..=make.leaves {
            let node = network.add(Any::Leaf(Box::new(leaf(make, own))));
            let port = Plug { node: desk, port: usize::from(own) - 1 };
            let (there, back) = network.join(port, Plug::of(node), &make.setup).expect("a sound set-up");
            lines.extend([there, back]);
            books.push([Books::new(order), Books::new(order)]);
        }
        Self { make: make.clone(), network, lines, books, restarts: [0; 2] }
    }

    fn desk(&mut self) -> &mut Desk<F> {
        let Any::Desk(desk) = self.network.node_mut(NodeId(0)) else { unreachable!("the first node") };
        desk
    }

    /// Restarts at random times of as long as the reports take at least.
    fn restart_at_random(&mut self) {
        let mut dice = Seed(self.make.seed).stream(998);
        let longest = u64::try_from(self.make.pause.as_nanos()).expect("short") * self.make.reports;
        let [of_a_leaf, of_the_hub] = self.make.restarts;
        for node in 0..=usize::from(self.make.leaves) {
            let often = if node == 0 { of_the_hub } else { of_a_leaf };
            let mean = Duration::from_nanos(longest / often.max(1));
            let span = Moment::START..Moment::from_nanos(if often == 0 { 0 } else { longest });
            let count = self.network.script().restart_at_random(NodeId(node), mean, span, &mut dice);
            self.restarts[usize::from(node == 0)] += count;
        }
    }

    /// Books all journals: first what was sent and told, then what arrived, for it was sent by then.
    fn book(&mut self) -> Result<(), String> {
        let mut slipped = 0;
        let of_the_desk = self.desk().take_journal();
        let mut arrived = Vec::new();
        let mut enter = |books: &mut Vec<[Books; 2]>, place: usize, at_hub: bool, line: Journal| {
            let [up, down] = &mut books[place];
            let (out, back) = if at_hub { (down, up) } else { (up, down) };
            slipped += book(&[line], out, back);
        };
        let of_leaves = (0..usize::from(self.make.leaves)).flat_map(|place| {
            let Any::Leaf(board) = self.network.node_mut(NodeId(place + 1)) else { unreachable!("a leaf") };
            board.program_mut().take_journal().into_iter().map(move |line| (place, false, line))
        });
        let of_leaves: Vec<_> = of_leaves.collect();
        let of_the_desk = of_the_desk.into_iter().map(|(leaf, line)| (usize::from(leaf) - 1, true, line));
        for (place, at_hub, line) in of_leaves.into_iter().chain(of_the_desk) {
            if matches!(line, Journal::Arrived { .. }) {
                arrived.push((place, at_hub, line));
            } else {
                enter(&mut self.books, place, at_hub, line);
            }
        }
        arrived.into_iter().for_each(|(place, at_hub, line)| enter(&mut self.books, place, at_hub, line));
        if slipped > 0 { Err(format!("{slipped} payloads that nobody made")) } else { Ok(()) }
    }

    fn run_until(&mut self, until: Moment) -> Result<(), String> {
        self.network.run(until, &mut |_, _| {}).map_err(|stalled| stalled.to_string())?;
        self.book()
    }

    fn has_sent_all(&self) -> bool {
        self.network.nodes().all(|node| match node {
            Any::Desk(_) => true,
            Any::Leaf(board) => board.program().sent() == self.make.reports,
        })
    }

    fn run(mut self) -> Result<Sum, String> {
        self.restart_at_random();
        let mut millis = 0;
        let least = u64::try_from(self.make.pause.as_millis()).expect("short") * self.make.reports;
        let patience = 20 * least + SETTLED;
        while !(self.has_sent_all() && self.network.script().next().is_none()) {
            millis += SLICE;
            self.run_until(Moment::from_millis(millis))?;
            if millis > patience {
                return Err(format!("after {} s there are reports that were never taken", millis / 1_000));
            }
        }
        let mut sum = self.carried();
        sum.seconds = millis / 1_000;
        sum.naps = self.make.naps.load(Ordering::Relaxed);
        for line in self.lines.clone() {
            self.network.set_faults(line, Faults::NONE).map_err(|bad| bad.to_string())?;
        }
        self.desk().finish();
        self.run_until(Moment::from_millis(millis + SETTLED))?;
        self.check()?;
        let desk = self.desk();
        (sum.letters, sum.sessions, sum.most, sum.refused) =
            (desk.letters, desk.sessions, desk.most, desk.refused);
        for [up, down] in &self.books {
            sum.reports += up.balance();
            sum.hub += down.balance();
        }
        check_sums(&self.make, &sum)?;
        Ok(sum)
    }

    fn carried(&self) -> Sum {
        let mut sum = Sum { restarts: self.restarts, ..Sum::default() };
        for line in &self.lines {
            let counted = self.network.counted(*line);
            sum.frames += counted.writes;
            sum.lost += counted.lost;
            sum.strayed += counted.copied + counted.late;
        }
        sum
    }

    /// Each leaf's books, and both ends in one session.
    fn check(&mut self) -> Result<(), String> {
        for (place, both) in self.books.iter().enumerate() {
            for (way, books) in ["reports", "the hub's"].iter().zip(both) {
                let breaches = books.breaches_when_settled();
                if !breaches.is_empty() {
                    let some = &breaches[..breaches.len().min(5)];
                    let balance = books.balance();
                    return Err(format!("leaf {}, {way}: {some:?} {balance:?}", place + 1));
                }
            }
        }
        for own in 1..=self.make.leaves {
            let Any::Leaf(board) = self.network.node(NodeId(own.into())) else { unreachable!("a leaf") };
            let session = board.program().session();
            let desk = self.desk();
            if session.is_none() || desk.session(own) != session || desk.hub_now().state(own) != State::Up {
                return Err(format!("leaf {own} and the hub do not come to rest in one session"));
            }
        }
        let now = self.network.now();
        let left = self.desk().clear(now);
        let free = self.desk().fill();
        let wanted = POOL.min(usize::from(self.make.leaves) * usize::from(QUEUE));
        if left > 0 || free != wanted {
            return Err(format!("{left} letters are left, and {free} places of {wanted} are free"));
        }
        Ok(())
    }
}

/// What the boards counted themselves against the books.
fn check_sums(make: &Make, sum: &Sum) -> Result<(), String> {
    let Sum { reports, hub, letters, .. } = sum;
    let told = |balance: &Balance| balance.delivered + balance.unknown + balance.not_sent + balance.lost;
    let errands = letters.confirmed + letters.unknown;
    let good = reports.accepted == make.reports * u64::from(make.leaves)
        && told(reports) == reports.accepted
        && letters.accounted() == letters.pushed
        && (hub.delivered, hub.unknown) == (letters.confirmed, letters.unknown)
        && hub.delivered + hub.unknown == errands;
    if good { Ok(()) } else { Err(format!("sums that do not agree: {sum:?}")) }
}
