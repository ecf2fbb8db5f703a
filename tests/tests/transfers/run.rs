//! One transfer in virtual time, from its offer to its outcome, and what is cut on the way.

use super::{
    end::{Count, End},
    side::{Desk, Ends, Mast, Side},
    talk::{LEAVES, Who},
};
use bellwire::{
    framing::{Cobs, Datagram, Framing},
    transfer::{Outcome, State},
};
use bellwire_cli::sim::{Action, Carries, Condition, LineId, Moment, Network, NodeId, Plug, Seed, Setup};
use core::time::Duration;
use std::rc::Rc;

/// What the two are joined by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Joined {
    /// Two links on a wire.
    Wire,
    /// Two links on a radio.
    Radio,
    /// A hub that sends to a leaf, each leaf on a wire of its own.
    ToLeaf,
    /// A leaf that sends to its hub.
    ToHub,
}

/// What is cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum What {
    Desk,
    Mast,
    Both,
    /// The line, both ways, for so long.
    Line(Duration),
}

/// When.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Cut {
    Never,
    /// As soon as so many bodies have been handed to the drivers: what the board that fails had given is lost.
    Sent(u32, What),
    /// When so many have arrived, and have been dealt with.
    Heard(u32, What),
    /// The mast's power fails when so many have come to it, before it stores what came last.
    Unstored(u32),
    /// Whoever is next in turn, over and over, 1 to 199 bodies apart.
    OverAndOver,
}

/// A run.
#[derive(Debug, Clone)]
pub(crate) struct Make {
    pub(crate) joined: Joined,
    pub(crate) content: Rc<[u8]>,
    pub(crate) part: u16,
    pub(crate) window: u8,
    /// Octets a second.
    pub(crate) rate: u32,
    /// Both ends report as often as that.
    pub(crate) every: Option<Duration>,
    pub(crate) cut: Cut,
    pub(crate) desk_ends: Option<Ends>,
    pub(crate) mast_ends: Option<Ends>,
}

impl Make {
    pub(crate) fn new(joined: Joined, size: usize, window: u8) -> Self {
        let content = (0..size).map(|place| ((place * 31 + place / 256) & 0xFF).try_into().unwrap_or(0));
        Self {
            joined,
            content: content.collect(),
            part: 64,
            window,
            rate: 11_520,
            every: None,
            cut: Cut::Never,
            desk_ends: None,
            mast_ends: None,
        }
    }
}

/// What came of it.
#[derive(Debug, Clone)]
pub(crate) struct Sum {
    pub(crate) outcome: Outcome,
    pub(crate) state: State,
    /// All bodies that both sides sent, and heard.
    pub(crate) sent: Count,
    pub(crate) heard: Count,
    pub(crate) wholes: u32,
    pub(crate) store: Vec<u8>,
    pub(crate) cuts: u32,
    /// When all was over, ms.
    pub(crate) millis: u64,
    /// From handing a report over to its arrival: the longest, of those that came; and how many never came.
    pub(crate) longest: Duration,
    pub(crate) missing: usize,
    pub(crate) reports: usize,
    /// On the line, the longest frame with a body of the transfer.
    pub(crate) body: Duration,
}

pub(crate) const DESK: NodeId = NodeId(0);
pub(crate) const MAST: NodeId = NodeId(1);
/// Both ways between them.
pub(crate) const LINES: [LineId; 2] = [LineId(0), LineId(1)];

/// Runs until the desk has an outcome and what is on its way has come.
pub(crate) fn run(make: &Make) -> Sum {
    match make.joined {
        Joined::Radio => Run::new(make, &Datagram).finish(),
        _ => Run::new(make, &Cobs).finish(),
    }
}

pub(crate) struct Run<F: Framing> {
    make: Make,
    pub(crate) network: Network<End<F>>,
    cuts: u32,
    /// Of those over and over, when the next is due, in bodies sent.
    next: u32,
}

impl<F: Framing + Clone + 'static> Run<F> {
    pub(crate) fn new(make: &Make, framing: &F) -> Self {
        let mut network = Network::new(Seed(bellwire_tests::seed("transfers").value()));
        let mut desk = Desk::new(Rc::clone(&make.content), make.part);
        desk.ends = make.desk_ends;
        let largest = u32::try_from(make.content.len()).expect("a content");
        let mut mast = Mast::new(largest, make.part, make.window);
        mast.ends = make.mast_ends;
        if let Cut::Unstored(after) = make.cut {
            mast.dies_at = Some(after);
        }
        let (one, other) = match make.joined {
            Joined::Wire | Joined::Radio => (Who::Peer, Who::Peer),
            Joined::ToLeaf => (Who::Hub, Who::Leaf(1)),
            Joined::ToHub => (Who::Leaf(1), Who::Hub),
        };
        let mut add = |who, side| network.add(End::new(framing, who, make.rate, side, make.every));
        let ends = [add(one, Side::Desk(desk)), add(other, Side::Mast(Box::new(mast)))];
        let carries = if F::ORDERED { Carries::Octets { level: 16 } } else { Carries::Datagrams };
        let setup = Setup { carries, ..Setup::uart(make.rate * 10) };
        network.join(Plug::of(ends[0]), Plug::of(ends[1]), &setup).expect("a sound set-up");
        if one != Who::Peer {
            let hub = ends[usize::from(other == Who::Hub)];
            for leaf in 2..=LEAVES {
                let node =
                    network.add(End::new(framing, Who::Leaf(leaf), make.rate, Side::Neither, make.every));
                let plug = Plug { node: hub, port: usize::from(leaf) - 1 };
                network.join(plug, Plug::of(node), &setup).expect("a sound set-up");
            }
        }
        Self { make: make.clone(), network, cuts: 0, next: 1 }
    }

    fn finish(mut self) -> Sum {
        while self.outcome().is_none() {
            self.step();
        }
        let now = self.network.now();
        self.settle();
        self.sum(now)
    }

    /// What is on its way comes to rest; no more reports are made.
    pub(crate) fn settle(&mut self) {
        for node in [DESK, MAST] {
            self.network.node_mut(node).falls_quiet();
        }
        let until = self.network.now().plus(Duration::from_millis(500));
        self.network.run(until, &mut |_, _| {}).expect("time goes on");
    }

    pub(crate) fn outcome(&self) -> Option<Outcome> {
        self.network.node(DESK).side.outcome()
    }

    pub(crate) fn desk(&mut self) -> &mut Desk {
        let Side::Desk(desk) = &mut self.network.node_mut(DESK).side else { unreachable!("the desk") };
        desk
    }

    pub(crate) fn mast(&self) -> &Mast {
        let Side::Mast(mast) = &self.network.node(MAST).side else { unreachable!("the mast") };
        mast
    }

    fn total(&self, of: impl Fn(&End<F>) -> u32) -> u32 {
        of(self.network.node(DESK)) + of(self.network.node(MAST))
    }

    /// One event, and the cut if it is time for it.
    pub(crate) fn step(&mut self) {
        let end = Moment::from_millis(3_600_000);
        assert!(self.network.step(end, &mut |_, _| {}).expect("time goes on"), "an hour and no outcome");
        let (sent, heard) = (self.total(|end| end.sent.all()), self.total(|end| end.heard.all()));
        let what = match self.make.cut {
            Cut::Sent(after, what) if sent >= after && self.cuts == 0 => what,
            Cut::Heard(after, what) if heard >= after && self.cuts == 0 => what,
            Cut::OverAndOver if sent >= self.next => {
                // No period that the windows could fall in step with.
                self.next = sent + 1 + self.cuts * 83 % 199;
                if self.cuts.is_multiple_of(2) { What::Desk } else { What::Mast }
            }
            _ => return,
        };
        self.cuts += 1;
        let now = self.network.now();
        let script = self.network.script();
        match what {
            What::Desk => script.add(now, Action::Restart(DESK)),
            What::Mast => script.add(now, Action::Restart(MAST)),
            What::Both => {
                [DESK, MAST].map(|node| script.add(now, Action::Restart(node))).into_iter().collect()
            }
            What::Line(span) => {
                for line in LINES {
                    script.add(now, Action::Wire(line, Condition::Cut));
                    script.add(now.plus(span), Action::Wire(line, Condition::Whole));
                }
            }
        }
    }

    pub(crate) fn sum(&self, over: Moment) -> Sum {
        let (desk, mast) = (self.network.node(DESK), self.network.node(MAST));
        let both = |one: Count, other: Count| Count {
            offers: one.offers + other.offers,
            parts: one.parts + other.parts,
            asks: one.asks + other.asks,
            maps: one.maps + other.maps,
            others: one.others + other.others,
        };
        let (mut longest, mut missing) = (Duration::ZERO, 0);
        for (from, to) in [(desk, mast), (mast, desk)] {
            for (number, made) in (0..).zip(&from.reports) {
                match to.came.iter().find(|(came, _)| *came == number) {
                    Some((_, at)) => longest = longest.max(at.since(*made)),
                    None => missing += 1,
                }
            }
        }
        Sum {
            outcome: self.outcome().expect("it is over"),
            state: self.mast().receiver.state(),
            sent: both(desk.sent, mast.sent),
            heard: both(desk.heard, mast.heard),
            wholes: self.mast().wholes,
            store: self.mast().store.clone(),
            cuts: self.cuts,
            millis: over.nanos() / 1_000_000,
            longest,
            missing,
            reports: desk.reports.len() + mast.reports.len(),
            body: Duration::from_secs(desk.longest_frame as u64) / self.make.rate,
        }
    }
}
