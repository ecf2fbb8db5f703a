//! Nodes and lines, and the loop that jumps from one event to the next.

use super::fault::{Counted, Faults};
use super::line::{BadSetup, Line, Setup};
use super::moment::Moment;
use super::node::Node;
use super::script::{Action, Script};
use super::seed::Seed;

/// A node of a [`Network`], in the order of adding.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct NodeId(pub usize);

/// A line of a [`Network`], in the order of adding.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct LineId(pub usize);

/// One end of a line: a port of a node.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Plug {
    /// The node.
    pub node: NodeId,
    /// Its port, from 0.
    pub port: usize,
}

impl Plug {
    /// Port 0 of a node.
    #[must_use]
    pub const fn of(node: NodeId) -> Self {
        Self { node, port: 0 }
    }
}

/// What an onlooker sees.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Seen<'a> {
    /// A node gave octets to a line's driver.
    Sent {
        /// The line.
        line: LineId,
        /// All that was given, also what the driver had no room for.
        octets: &'a [u8],
    },
    /// Octets came out at the other end of a line.
    Arrived {
        /// The line.
        line: LineId,
        /// What came.
        octets: &'a [u8],
    },
    /// An action of the script was done.
    Done(Action),
}

/// A node that asks to be woken at once, over and over, so that time stands still.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Stalled {
    /// When.
    pub now: Moment,
    /// The node, if it was one.
    pub node: Option<NodeId>,
}

impl core::fmt::Display for Stalled {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let now = self.now.since(Moment::START);
        match self.node {
            Some(NodeId(node)) => {
                write!(f, "node {node} stops the time at {now:?}: it asks to be woken at once for ever")
            }
            None => write!(f, "time stands still at {now:?}"),
        }
    }
}

impl core::error::Error for Stalled {}

/// Events at one and the same time after which the network takes it that time stands still.
const PATIENCE: u32 = 100_000;

/// Nodes joined by lines, run in virtual time. The same seed and the same calls give the same run, octet for octet.
#[derive(Debug)]
pub struct Network<N> {
    now: Moment,
    seed: Seed,
    nodes: Vec<N>,
    lines: Vec<Joined>,
    script: Script,
    at_this_time: u32,
    octets: Vec<u8>,
}

#[derive(Debug)]
struct Joined {
    line: Line,
    from: Plug,
    to: Plug,
}

/// What is next, in the order in which events of equal time are taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Next {
    Script,
    Line(usize),
    Node(usize),
}

impl<N: Node> Network<N> {
    /// An empty network at the start of time.
    #[must_use]
    pub fn new(seed: Seed) -> Self {
        Self {
            now: Moment::START,
            seed,
            nodes: Vec::new(),
            lines: Vec::new(),
            script: Script::new(),
            at_this_time: 0,
            octets: Vec::new(),
        }
    }

    /// Adds a node.
    pub fn add(&mut self, node: N) -> NodeId {
        self.nodes.push(node);
        NodeId(self.nodes.len() - 1)
    }

    /// Adds a line for one direction.
    ///
    /// # Errors
    /// [`BadSetup`] if the set-up asks for what cannot be.
    ///
    /// # Panics
    /// If a plug names a node or port that does not exist, or another line starts at `from`.
    pub fn connect(&mut self, from: Plug, to: Plug, setup: Setup) -> Result<LineId, BadSetup> {
        for Plug { node, port } in [from, to] {
            assert!(port < self.nodes[node.0].ports(), "node {} has no port {port}", node.0);
        }
        assert!(self.lines.iter().all(|other| other.from != from), "two lines start at one port");
        let line = Line::new(setup, self.seed.stream(self.lines.len() as u64))?;
        self.lines.push(Joined { line, from, to });
        Ok(LineId(self.lines.len() - 1))
    }

    /// Joins two ports both ways with lines of the same make; gives the line from `one` and the line back.
    ///
    /// # Errors
    /// As [`Network::connect`].
    ///
    /// # Panics
    /// As [`Network::connect`].
    pub fn join(&mut self, one: Plug, other: Plug, setup: &Setup) -> Result<(LineId, LineId), BadSetup> {
        Ok((self.connect(one, other, setup.clone())?, self.connect(other, one, setup.clone())?))
    }

    /// The script, to write into.
    pub fn script(&mut self) -> &mut Script {
        &mut self.script
    }

    /// The time now.
    #[must_use]
    pub const fn now(&self) -> Moment {
        self.now
    }

    /// A node.
    ///
    /// # Panics
    /// If it is not of this network.
    #[must_use]
    pub fn node(&self, node: NodeId) -> &N {
        &self.nodes[node.0]
    }

    /// A node, to act on; the network asks it for its writes at the next step only if it asks to be woken.
    ///
    /// # Panics
    /// If it is not of this network.
    pub fn node_mut(&mut self, node: NodeId) -> &mut N {
        &mut self.nodes[node.0]
    }

    /// All nodes in order.
    pub fn nodes(&self) -> impl Iterator<Item = &N> {
        self.nodes.iter()
    }

    /// What a line has carried and what went wrong on it.
    ///
    /// # Panics
    /// If it is not of this network.
    #[must_use]
    pub fn counted(&self, line: LineId) -> Counted {
        self.lines[line.0].line.counted()
    }

    /// Octets that the sender's driver of a line has not sent yet.
    ///
    /// # Panics
    /// If it is not of this network.
    #[must_use]
    pub fn unsent(&self, line: LineId) -> usize {
        self.lines[line.0].line.unsent(self.now)
    }

    /// Changes the odds of damage on a line from now on.
    ///
    /// # Errors
    /// [`BadSetup`] if this line cannot have them; they are then as before.
    ///
    /// # Panics
    /// If it is not of this network.
    pub fn set_faults(&mut self, line: LineId, faults: Faults) -> Result<(), BadSetup> {
        self.lines[line.0].line.set_faults(self.now, faults)
    }

    /// Does an action of a script now.
    pub fn perform(&mut self, action: Action, see: &mut impl FnMut(Moment, Seen<'_>)) {
        let now = self.now;
        see(now, Seen::Done(action));
        match action {
            Action::Wire(LineId(line), condition) => self.lines[line].line.set_condition(now, condition),
            Action::Lose(LineId(line), writes) => self.lines[line].line.lose_next(writes),
            Action::Damage(LineId(line), writes) => self.lines[line].line.damage_next(writes),
            Action::Restart(NodeId(node)) => {
                for joined in self.lines.iter_mut().filter(|joined| joined.from.node.0 == node) {
                    joined.line.forget_unsent(now);
                }
                self.nodes[node].restart(now);
                self.drain(node, see);
            }
            Action::Act(NodeId(node), act) => {
                self.nodes[node].act(now, act);
                self.drain(node, see);
            }
        }
    }

    /// When something next happens, if anything ever does without help from outside.
    #[must_use]
    pub fn next(&self) -> Option<Moment> {
        self.find().map(|(at, _)| at)
    }

    /// Jumps to the next event not later than `until` and lets it happen; `false` if there is none, and it is then `until`.
    ///
    /// # Errors
    /// [`Stalled`] if time stands still.
    pub fn step(&mut self, until: Moment, see: &mut impl FnMut(Moment, Seen<'_>)) -> Result<bool, Stalled> {
        let Some((at, next)) = self.find().filter(|(at, _)| *at <= until) else {
            self.now = self.now.max(until);
            return Ok(false);
        };
        if at > self.now {
            self.now = at;
            self.at_this_time = 0;
        }
        self.at_this_time += 1;
        if self.at_this_time > PATIENCE {
            let node = if let Next::Node(node) = next { Some(NodeId(node)) } else { None };
            return Err(Stalled { now: self.now, node });
        }
        match next {
            Next::Script => {
                if let Some(action) = self.script.take(self.now) {
                    self.perform(action, see);
                }
            }
            Next::Line(line) => self.arrive(line, see),
            Next::Node(node) => {
                self.nodes[node].woken(self.now);
                self.drain(node, see);
            }
        }
        Ok(true)
    }

    /// Runs up to and including `until`.
    ///
    /// # Errors
    /// [`Stalled`] if time stands still.
    pub fn run(&mut self, until: Moment, see: &mut impl FnMut(Moment, Seen<'_>)) -> Result<(), Stalled> {
        while self.step(until, see)? {}
        Ok(())
    }

    /// The next event: the earliest; at equal times script, lines, nodes, each in their order.
    fn find(&self) -> Option<(Moment, Next)> {
        let mut found: Option<(Moment, Next)> = self.script.next().map(|at| (at.max(self.now), Next::Script));
        let lines =
            self.lines.iter().enumerate().map(|(index, joined)| (joined.line.next(), Next::Line(index)));
        let nodes = self.nodes.iter().enumerate().map(|(index, node)| (node.wake(), Next::Node(index)));
        for (at, next) in lines.chain(nodes) {
            if let Some(at) = at.map(|at| at.max(self.now))
                && found.is_none_or(|(earliest, _)| at < earliest)
            {
                found = Some((at, next));
            }
        }
        found
    }

    fn arrive(&mut self, line: usize, see: &mut impl FnMut(Moment, Seen<'_>)) {
        let mut octets = core::mem::take(&mut self.octets);
        let Plug { node, port } = self.lines[line].to;
        while self.lines[line].line.arrive(self.now, &mut octets) {
            see(self.now, Seen::Arrived { line: LineId(line), octets: &octets });
            self.nodes[node.0].arrived(self.now, port, &octets);
        }
        self.octets = octets;
        self.drain(node.0, see);
    }

    /// Takes all that a node has to send.
    fn drain(&mut self, node: usize, see: &mut impl FnMut(Moment, Seen<'_>)) {
        let mut octets = core::mem::take(&mut self.octets);
        for (index, Joined { line, from, .. }) in self.lines.iter_mut().enumerate() {
            if from.node.0 != node {
                continue;
            }
            octets.clear();
            while self.nodes[node].transmit(self.now, from.port, line.unsent(self.now), &mut octets) {
                see(self.now, Seen::Sent { line: LineId(index), octets: &octets });
                line.send(self.now, &octets);
                octets.clear();
            }
        }
        self.octets = octets;
    }
}
