//! Nodes, lines and shared media, and how they are put together.

use super::agenda::{Agenda, Part};
use super::fault::{Counted, Faults};
use super::ids::{LineId, MediumId, NodeId, Plug};
use super::line::{BadSetup, Line, Setup};
use super::medium::{Medium, Shared, Talked};
use super::moment::Moment;
use super::node::Node;
use super::script::{Action, Script};
use super::seed::Seed;

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
    /// A node gave octets to its driver on a shared medium.
    Talked {
        /// The medium.
        medium: MediumId,
        /// The port that it talks by.
        from: Plug,
        /// All that was given, also what the driver had no room for.
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

/// Nodes joined by lines, run in virtual time. The same seed and the same calls give the same run, octet for octet.
#[derive(Debug)]
pub struct Network<N> {
    pub(super) now: Moment,
    seed: Seed,
    pub(super) nodes: Vec<N>,
    /// Of each node, where it sends to, in the order of connecting.
    pub(super) outs: Vec<Vec<Out>>,
    pub(super) lines: Vec<Joined>,
    pub(super) media: Vec<Medium>,
    pub(super) script: Script,
    pub(super) agenda: Agenda,
    /// Nodes that were acted on from outside since their times were last asked.
    pub(super) touched: Vec<usize>,
    pub(super) at_this_time: u32,
    pub(super) octets: Vec<u8>,
}

/// A line, and the port that its octets reach.
#[derive(Debug)]
pub(super) struct Joined {
    pub(super) line: Line,
    pub(super) to: Plug,
}

/// Where a port sends to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Out {
    pub(super) port: usize,
    pub(super) way: Way,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Way {
    Line(usize),
    Medium { medium: usize, mouth: usize },
}

impl<N: Node> Network<N> {
    /// An empty network at the start of time.
    #[must_use]
    pub fn new(seed: Seed) -> Self {
        Self {
            now: Moment::START,
            seed,
            nodes: Vec::new(),
            outs: Vec::new(),
            lines: Vec::new(),
            media: Vec::new(),
            script: Script::new(),
            agenda: Agenda::default(),
            touched: Vec::new(),
            at_this_time: 0,
            octets: Vec::new(),
        }
    }

    /// Adds a node.
    pub fn add(&mut self, node: N) -> NodeId {
        self.nodes.push(node);
        self.outs.push(Vec::new());
        self.touched.push(self.nodes.len() - 1);
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
        self.check(to);
        self.check_free(from);
        let line = Line::new(setup, self.seed.stream(self.lines.len() as u64))?;
        self.lines.push(Joined { line, to });
        let way = Way::Line(self.lines.len() - 1);
        self.outs[from.node.0].push(Out { port: from.port, way });
        Ok(LineId(self.lines.len() - 1))
    }

    fn check(&self, Plug { node, port }: Plug) {
        assert!(port < self.nodes[node.0].ports(), "node {} has no port {port}", node.0);
    }

    fn check_free(&self, from: Plug) {
        self.check(from);
        let used = self.outs[from.node.0].iter().any(|out| out.port == from.port);
        assert!(!used, "two lines start at one port");
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

    /// Adds a medium that boards share; nobody is on it yet.
    ///
    /// # Errors
    /// [`BadSetup`] if it asks for what cannot be.
    pub fn share(&mut self, shared: Shared) -> Result<MediumId, BadSetup> {
        self.media.push(Medium::new(shared)?);
        Ok(MediumId(self.media.len() - 1))
    }

    /// Puts a port on a shared medium; gives the line by which it hears, with faults and a count of its own.
    ///
    /// # Panics
    /// If there is no such medium or port, or a line starts there.
    pub fn attach(&mut self, medium: MediumId, plug: Plug) -> LineId {
        self.check_free(plug);
        let setup = self.media[medium.0].shared().line.clone();
        let line = Line::new(setup, self.seed.stream(self.lines.len() as u64));
        self.lines.push(Joined { line: line.expect("the medium was checked"), to: plug });
        let ear = self.lines.len() - 1;
        self.add_mouth(medium, plug, Some(ear));
        LineId(ear)
    }

    /// Puts a port on a shared medium that only talks there: a transmitter without a receiver.
    ///
    /// # Panics
    /// As [`Network::attach`].
    pub fn attach_sender(&mut self, medium: MediumId, plug: Plug) {
        self.check_free(plug);
        self.add_mouth(medium, plug, None);
    }

    fn add_mouth(&mut self, medium: MediumId, plug: Plug, ear: Option<usize>) {
        let mouth = self.media[medium.0].attach(plug, ear);
        let way = Way::Medium { medium: medium.0, mouth };
        self.outs[plug.node.0].push(Out { port: plug.port, way });
    }

    /// What a shared medium has carried.
    ///
    /// # Panics
    /// If it is not of this network.
    #[must_use]
    pub fn talked(&self, medium: MediumId) -> Talked {
        self.media[medium.0].counted()
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
        if !self.touched.contains(&node.0) {
            self.touched.push(node.0);
        }
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
        let done = self.lines[line.0].line.set_faults(self.now, faults);
        self.enter(Part::Line(line.0));
        done
    }
}
