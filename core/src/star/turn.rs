//! Who may talk on a shared half-duplex wire: whose *turn* it is (W-58). The hub gives the turn, leaf by leaf, and takes it back.

use super::{Access, May};
use crate::{rules::holds, time::Duration};

/// The times of a shared wire, µs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Timing {
    /// Silence before the other side talks: the slowest driver lets go and the slowest receiver is ready. Several octet times, or what the oldest board on the
    /// wire asks for.
    pub turnaround: Duration,
    /// From the end of the hub's frame to the first octet of the reply, at most; the turnaround is part of it.
    pub reply: Duration,
    /// The longest frame on the line, from its first octet to its last.
    pub longest: Duration,
    /// A quiet leaf is passed over in up to so many rounds, doubling from 1 with every reply that does not come.
    pub passed_over: u8,
}

/// What the hub does now.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Give {
    /// Send one frame to this leaf, then call [`Turn::gave`]; the turn is then the leaf's.
    To(u8),
    /// Nothing before so long: a leaf has the turn, or the line turns around.
    Wait(Duration),
    /// No leaf is on the roster.
    Nobody,
}

/// How a turn ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum TurnEnd {
    /// No octet came in time: so many times in a row now.
    NoReply {
        /// Which leaf.
        leaf: u8,
        /// Replies missing in a row, at most 255.
        missing: u8,
    },
    /// A reply began and did not end: damage, or another board talking.
    Unfinished {
        /// Which leaf.
        leaf: u8,
    },
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
struct Leaf {
    present: bool,
    missing: u8,
    /// Rounds in which it is still passed over.
    pass: u8,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
enum Phase {
    /// The hub has the turn, once this has passed.
    Hub(u32),
    /// A leaf has it; no octet yet.
    Waits(u8, u32),
    /// Its reply has begun.
    Hears(u8, u32),
}

/// The hub's side: gives the turn in a round to the leaves at addresses 1..=`LEAVES`, 3 octets each.
///
/// # Grammar
/// [`poll`](Self::poll) says whom to send a frame; [`gave`](Self::gave) when it is handed to the line; [`heard`](Self::heard) at the first octet that comes;
/// [`replied`](Self::replied) when its frame is complete; [`elapse`](Self::elapse) time. The driver is enabled from `poll` to the last bit of the frame: the caller's affair, by the
/// transmit-*complete* flag, not by the empty buffer, which comes an octet too soon.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Turn<const LEAVES: usize> {
    timing: Timing,
    leaves: [Leaf; LEAVES],
    /// The leaf that is looked at next, from 0.
    next: usize,
    phase: Phase,
    end: Option<TurnEnd>,
}

impl<const LEAVES: usize> Turn<LEAVES> {
    /// No leaf yet.
    #[must_use]
    pub const fn new(timing: Timing) -> Self {
        const { assert!(LEAVES >= 1 && LEAVES <= 250, "a hub has 1 to 250 leaves") };
        let nobody = Leaf { present: false, missing: 0, pass: 0 };
        Self { timing, leaves: [nobody; LEAVES], next: 0, phase: Phase::Hub(0), end: None }
    }

    fn leaf(&mut self, address: u8) -> Option<&mut Leaf> {
        self.leaves.get_mut(usize::from(address).checked_sub(1)?)
    }

    /// A leaf joins the round, or leaves it. Gives whether there is such an address.
    pub fn set_present(&mut self, address: u8, present: bool) -> bool {
        let Some(leaf) = self.leaf(address) else { return false };
        if leaf.present != present {
            *leaf = Leaf { present, missing: 0, pass: 0 };
        }
        true
    }

    /// What to do now. Quiet leaves are passed over as long as another one is not.
    pub fn poll(&mut self) -> Give {
        match self.phase {
            Phase::Hub(0) => {}
            Phase::Hub(left) | Phase::Waits(_, left) | Phase::Hears(_, left) => {
                return Give::Wait(Duration::from_ticks(left));
            }
        }
        // Two rounds: in the second nobody is passed over any more.
        for look in 0..LEAVES.saturating_mul(2) {
            let place = self.next.checked_rem(LEAVES).unwrap_or(0);
            let Some(leaf) = self.leaves.get_mut(place) else { break };
            if leaf.present && (leaf.pass == 0 || look >= LEAVES) {
                leaf.pass = 0;
                self.next = place;
                return u8::try_from(place.saturating_add(1)).map_or(Give::Nobody, Give::To);
            }
            leaf.pass = leaf.pass.saturating_sub(1);
            self.next = place.saturating_add(1);
        }
        Give::Nobody
    }

    /// The frame of [`Give::To`] begins to leave now and takes `leaving`.
    pub fn gave(&mut self, leaving: Duration) {
        let Ok(address) = u8::try_from(self.next.saturating_add(1)) else { return };
        self.next = self.next.saturating_add(1);
        self.phase = Phase::Waits(address, leaving.as_ticks().saturating_add(self.timing.reply.as_ticks()));
    }

    /// A frame to all begins to leave now and takes `leaving`: nobody gets the turn.
    pub fn told_all(&mut self, leaving: Duration) {
        self.phase = Phase::Hub(leaving.as_ticks().saturating_add(self.timing.turnaround.as_ticks()));
    }

    /// An octet comes in that is not an echo of our own.
    pub const fn heard(&mut self) {
        if let Phase::Waits(leaf, _) = self.phase {
            self.phase = Phase::Hears(leaf, self.timing.longest.as_ticks());
        }
    }

    /// A whole frame from leaf `from` is in: the turn is the hub's after the turnaround. Gives whether it was that leaf's turn; if not, two boards talk at once.
    pub fn replied(&mut self, from: u8) -> bool {
        let (Phase::Waits(leaf, _) | Phase::Hears(leaf, _)) = self.phase else { return false };
        if leaf != from {
            return false;
        }
        if let Some(leaf) = self.leaf(from) {
            (leaf.missing, leaf.pass) = (0, 0);
        }
        self.phase = Phase::Hub(self.timing.turnaround.as_ticks());
        true
    }

    /// Time passes.
    pub fn elapse(&mut self, span: Duration) {
        let (Phase::Hub(left) | Phase::Waits(_, left) | Phase::Hears(_, left)) = &mut self.phase;
        *left = left.saturating_sub(span.as_ticks());
        match self.phase {
            Phase::Waits(leaf, 0) => {
                let missing = self.miss(leaf);
                self.end = Some(TurnEnd::NoReply { leaf, missing });
            }
            Phase::Hears(leaf, 0) => {
                self.miss(leaf);
                self.end = Some(TurnEnd::Unfinished { leaf });
            }
            _ => {}
        }
    }

    fn miss(&mut self, address: u8) -> u8 {
        self.phase = Phase::Hub(self.timing.turnaround.as_ticks());
        let most = self.timing.passed_over;
        let Some(leaf) = self.leaf(address) else { return 0 };
        leaf.missing = leaf.missing.saturating_add(1);
        let doubled = 1_u8.checked_shl(u32::from(leaf.missing).saturating_sub(1)).unwrap_or(u8::MAX);
        leaf.pass = doubled.min(most);
        leaf.missing
    }

    /// How the last turn ended, if not with a reply; told once.
    pub const fn poll_end(&mut self) -> Option<TurnEnd> {
        self.end.take()
    }
}

/// The leaf's side: it may send one frame when the hub has given it the turn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct TurnTaken {
    timing: Timing,
    /// Time until it may begin, and until it may not any more.
    open: Option<(u32, u32)>,
}

impl TurnTaken {
    /// Not its turn yet.
    #[must_use]
    pub const fn new(timing: Timing) -> Self {
        Self { timing, open: None }
    }

    /// A frame from the hub to this leaf has just ended: the turn is ours, after the turnaround and before the hub takes it back.
    pub const fn given(&mut self) {
        self.open = Some((self.timing.turnaround.as_ticks(), self.timing.reply.as_ticks()));
    }

    /// The frame is on its way, or another board talks: the turn is over.
    pub const fn over(&mut self) {
        self.open = None;
    }
}

impl Access for TurnTaken {
    fn may_send(&self) -> May {
        match self.open {
            Some((0, _)) => May::Now,
            Some((left, _)) => May::In(Duration::from_ticks(left)),
            None if holds(58) => May::No,
            None => May::Now,
        }
    }

    fn elapse(&mut self, span: Duration) {
        let Some((begin, end)) = &mut self.open else { return };
        *begin = begin.saturating_sub(span.as_ticks());
        *end = end.saturating_sub(span.as_ticks());
        if *end == 0 {
            self.open = None;
        }
    }

    fn sent(&mut self) {
        self.over();
    }
}

#[cfg(test)]
mod tests;
