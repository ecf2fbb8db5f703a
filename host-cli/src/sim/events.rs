//! The loop that jumps from one event to the next.

use super::agenda::Part;
use super::ids::{LineId, MediumId, NodeId, Plug};
use super::medium::Sending;
use super::moment::Moment;
use super::network::{Network, Out, Seen, Stalled, Way};
use super::node::Node;
use super::script::Action;

/// Events at one and the same time after which the network takes it that time stands still.
const PATIENCE: u32 = 100_000;

/// What is next, in the order in which events of equal time are taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Next {
    Script,
    Part(Part),
}

impl<N: Node> Network<N> {
    /// Does an action of a script now.
    pub fn perform(&mut self, action: Action, see: &mut impl FnMut(Moment, Seen<'_>)) {
        let now = self.now;
        see(now, Seen::Done(action));
        match action {
            Action::Wire(LineId(line), condition) => {
                self.lines[line].line.set_condition(now, condition);
                self.enter(Part::Line(line));
            }
            Action::Lose(LineId(line), writes) => self.lines[line].line.lose_next(writes),
            Action::Damage(LineId(line), writes) => self.lines[line].line.damage_next(writes),
            Action::Restart(NodeId(node)) => {
                self.forget_unsent(node);
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
        let woken = self.touched.iter().filter_map(|node| self.nodes[*node].wake());
        let agenda = self.agenda.first_but(&self.touched).map(|(at, _)| at);
        woken.chain(agenda).chain(self.script.next()).map(|at| at.max(self.now)).min()
    }

    /// Jumps to the next event not later than `until` and lets it happen; `false` if there is none, and it is then `until`.
    ///
    /// # Errors
    /// [`Stalled`] if time stands still.
    pub fn step(&mut self, until: Moment, see: &mut impl FnMut(Moment, Seen<'_>)) -> Result<bool, Stalled> {
        while let Some(node) = self.touched.pop() {
            self.enter(Part::Node(node));
        }
        let script = self.script.next().map(|at| (at.max(self.now), Next::Script));
        let part = self.agenda.first().map(|(at, part)| (at, Next::Part(part)));
        let Some((at, next)) = script.into_iter().chain(part).min().filter(|(at, _)| *at <= until) else {
            self.now = self.now.max(until);
            return Ok(false);
        };
        if at > self.now {
            self.now = at;
            self.at_this_time = 0;
        }
        self.at_this_time += 1;
        if self.at_this_time > PATIENCE {
            let node = if let Next::Part(Part::Node(node)) = next { Some(NodeId(node)) } else { None };
            return Err(Stalled { now: self.now, node });
        }
        match next {
            Next::Script => {
                if let Some(action) = self.script.take(self.now) {
                    self.perform(action, see);
                }
            }
            Next::Part(Part::Medium(medium)) => self.end(medium),
            Next::Part(Part::Line(line)) => self.arrive(line, see),
            Next::Part(Part::Node(node)) => {
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

    /// Enters in the agenda when a part is next due.
    pub(super) fn enter(&mut self, part: Part) {
        let at = match part {
            Part::Medium(medium) => self.media[medium].next(),
            Part::Line(line) => self.lines[line].line.next(),
            Part::Node(node) => self.nodes[node].wake(),
        };
        self.agenda.set(part, at.map(|at| at.max(self.now)));
    }

    fn arrive(&mut self, line: usize, see: &mut impl FnMut(Moment, Seen<'_>)) {
        let mut octets = core::mem::take(&mut self.octets);
        let Plug { node, port } = self.lines[line].to;
        while self.lines[line].line.arrive(self.now, &mut octets) {
            see(self.now, Seen::Arrived { line: LineId(line), octets: &octets });
            self.nodes[node.0].arrived(self.now, port, &octets);
        }
        self.octets = octets;
        self.enter(Part::Line(line));
        self.drain(node.0, see);
    }

    /// Takes all that a node has to send.
    pub(super) fn drain(&mut self, node: usize, see: &mut impl FnMut(Moment, Seen<'_>)) {
        let mut octets = core::mem::take(&mut self.octets);
        for place in 0..self.outs[node].len() {
            let Out { port, way } = self.outs[node][place];
            if let Way::Medium { medium, mouth } = way {
                let busy = self.media[medium].is_busy(self.now, mouth);
                self.nodes[node].looks(self.now, port, busy);
            }
            loop {
                octets.clear();
                let unsent = self.unsent_on(way);
                if !self.nodes[node].transmit(self.now, port, unsent, &mut octets) {
                    break;
                }
                match way {
                    Way::Line(line) => {
                        see(self.now, Seen::Sent { line: LineId(line), octets: &octets });
                        self.lines[line].line.send(self.now, &octets);
                        self.enter(Part::Line(line));
                    }
                    Way::Medium { medium, mouth } => {
                        let from = Plug { node: NodeId(node), port };
                        see(self.now, Seen::Talked { medium: MediumId(medium), from, octets: &octets });
                        self.talk(medium, mouth, &octets);
                    }
                }
            }
        }
        self.octets = octets;
        self.enter(Part::Node(node));
    }

    fn unsent_on(&self, way: Way) -> usize {
        match way {
            Way::Line(line) => self.lines[line].line.unsent(self.now),
            Way::Medium { medium, mouth } => self.media[medium].unsent(self.now, mouth),
        }
    }

    /// A write goes onto a shared medium; on a wire every ear hears it from its first octet on.
    fn talk(&mut self, medium: usize, mouth: usize, octets: &[u8]) {
        let shared = &mut self.media[medium];
        let Some((start, end, taken)) = shared.talk(self.now, mouth, octets) else { return };
        if shared.is_wire() {
            let octets = octets.get(..taken).unwrap_or(&[]);
            self.each_ear(medium, mouth, |line, itself| {
                if itself { line.garble(start, end) } else { line.hear(start, octets) }
            });
        }
        self.enter(Part::Medium(medium));
    }

    /// Writes on a shared medium end; on a channel every ear hears those that did not overlap.
    fn end(&mut self, medium: usize) {
        while let Some(Sending { mouth, start, end, octets, collided }) =
            self.media[medium].take_ended(self.now)
        {
            if self.media[medium].is_wire() {
                continue;
            }
            self.each_ear(medium, mouth, |line, itself| match (itself, collided) {
                (true, _) => {}
                (false, true) => line.garble(start, end),
                (false, false) => line.hear(end, &octets),
            });
        }
        self.enter(Part::Medium(medium));
    }

    /// Calls `with` for each ear on a medium, and whether it is that of the board that talks and does not hear itself.
    fn each_ear(&mut self, medium: usize, talks: usize, mut with: impl FnMut(&mut super::line::Line, bool)) {
        let itself = |mouth: usize, echo: bool| mouth == talks && !echo;
        for mouth in 0..self.media[medium].mouths().len() {
            let Some(ear) = self.media[medium].mouths()[mouth].ear else { continue };
            with(&mut self.lines[ear].line, itself(mouth, self.media[medium].shared().echo));
            self.enter(Part::Line(ear));
        }
    }

    /// The drivers of a node that restarts drop what they have not sent.
    fn forget_unsent(&mut self, node: usize) {
        for place in 0..self.outs[node].len() {
            match self.outs[node][place].way {
                Way::Line(line) => {
                    self.lines[line].line.forget_unsent(self.now);
                    self.enter(Part::Line(line));
                }
                Way::Medium { medium, mouth } => {
                    let talked = self.media[medium].fall_silent(self.now, mouth);
                    if talked && self.media[medium].is_wire() {
                        let now = self.now;
                        self.each_ear(medium, mouth, |line, _| line.forget_unsent(now));
                    }
                    self.enter(Part::Medium(medium));
                }
            }
        }
    }
}
