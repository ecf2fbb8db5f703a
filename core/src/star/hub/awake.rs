//! Leaves that sleep (W-61): messages go to them only while they listen.

use super::{Hub, common::Common, flags::Flag, lane::Lane, place};
use crate::{
    fcs::Fcs,
    framing::Framing,
    rules::holds,
    time::{Duration, Instant},
};

impl<F: Framing, C: Fcs, const LEAVES: usize, const POOL: usize, const FRAME: usize>
    Hub<F, C, LEAVES, POOL, FRAME>
{
    /// The leaf listens for `span` from now on, at most 60 s: messages go to it until then (within 8 ms). What is under way afterwards is sent again when it listens the next time. Nothing
    /// happens unless it was admitted as a [`Sleeper`](super::Speaks::Sleeper) and has a session.
    pub fn set_awake(&mut self, now: Instant, leaf: u8, span: Duration) {
        self.common.advance(now);
        let Some(place) = place(leaf) else { return };
        let up = |lane: &&mut Lane| lane.has(Flag::Sleeps) && lane.session.is_up();
        let Some(lane) = self.lanes.get_mut(place).filter(up) else { return };
        lane.catch_up(&self.common.clock, &self.common.epochs);
        lane.keep_alive = self.common.clock.coarse_in(span.as_ticks());
        lane.set(Flag::Awake, true);
        self.settle(place);
    }

    /// Whether messages go to this leaf now: it has a session, and listens if it is one that sleeps.
    #[must_use]
    pub fn is_awake(&self, leaf: u8) -> bool {
        self.lane(leaf).is_some_and(|lane| lane.session.is_up() && self.common.listens(lane))
    }

    /// The leaf that was heard last, once: whatever it sent, in its session or to open one. Ask after each [`handle_octets`](Self::handle_octets).
    pub fn take_heard(&mut self) -> Option<u8> {
        Some(core::mem::take(&mut self.common.heard)).filter(|&leaf| leaf > 0)
    }
}

impl<F: Framing, C: Fcs, const POOL: usize, const FRAME: usize> Common<F, C, POOL, FRAME> {
    /// Whether messages may go to the leaf.
    pub(super) fn listens(&self, lane: &Lane) -> bool {
        let awake = lane.has(Flag::Awake) && !self.clock.has_come(lane.keep_alive);
        !lane.has(Flag::Sleeps) || awake || !holds(61)
    }

    /// Its time to listen may be over.
    pub(super) fn fall_asleep(&self, lane: &mut Lane) {
        if self.clock.has_come(lane.keep_alive) {
            lane.set(Flag::Awake, false);
        }
    }
}
