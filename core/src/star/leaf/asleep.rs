//! A leaf that sleeps deeply, and goes on in its session.

use super::{Leaf, LeafConfig};
use crate::{
    fcs::Fcs,
    framing::Framing,
    link::{NotResumed, StaysAwake},
    star::Asleep,
    time::{Duration, Instant},
};

impl<F: Framing, C: Fcs, const FRAME: usize, const WINDOW: usize, const QUEUE: usize>
    Leaf<F, C, FRAME, WINDOW, QUEUE>
{
    /// Falls asleep: gives what must be kept for [`resume`](Self::resume), and is closed and silent from now on. See [`Link::fall_asleep`](crate::link::Link::fall_asleep) for what is to
    /// be drained afterwards.
    ///
    /// # Errors
    /// Why the session cannot be kept; nothing has changed then.
    pub fn fall_asleep(&mut self, now: Instant) -> Result<Asleep, StaysAwake> {
        self.advance(now);
        if self.has_event() {
            return Err(StaysAwake::Untold);
        }
        let address = self.joining.seat().ok_or(StaysAwake::NotOpen)?;
        let asleep = self.link.fall_asleep(now)?;
        self.joining.close();
        Ok(Asleep { address, ..asleep })
    }

    /// Goes on, after `slept`, in the session that [`fall_asleep`](Self::fall_asleep) kept, at the address of before: neither JOIN nor opening is needed. See
    /// [`Link::resume`](crate::link::Link::resume) for what is made anew, and why what was saved is good for one life only.
    ///
    /// Frames to all are taken once the hub has told again which are its own: the first that comes makes the leaf ask (W-70).
    ///
    /// # Errors
    /// Why it cannot: then make a [`new`](Self::new) leaf, which asks and opens.
    pub fn resume(
        framing: F,
        config: LeafConfig,
        asleep: &Asleep,
        slept: Duration,
        now: Instant,
    ) -> Result<Self, NotResumed> {
        let mut leaf = Self::new(framing, config, now);
        leaf.joining.resume(asleep.address).ok_or(NotResumed::Address)?;
        leaf.take_address();
        leaf.link.wake_up(asleep, slept)?;
        if let Some(peer) = leaf.link.peer() {
            leaf.to_all.opened(peer.session);
        }
        Ok(leaf)
    }
}
