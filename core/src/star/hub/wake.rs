//! When a hub must be served next.

use super::Hub;
use crate::{
    fcs::Fcs,
    framing::Framing,
    link::{Wake, WakeReason, When},
    time::{Duration, after},
};

impl<F: Framing, C: Fcs, const LEAVES: usize, const POOL: usize, const FRAME: usize>
    Hub<F, C, LEAVES, POOL, FRAME>
{
    /// When the hub must be served next, and why. For what a leaf is due, is not looked up: the reason is [`WakeReason::Leaf`]. It may be somewhat early, by
    /// design of the timing wheel, at most four times for one deadline.
    #[must_use]
    #[inline(never)]
    pub fn poll_wake(&self) -> Wake {
        let now = |reason| Wake { when: When::Now, reason };
        if self.common.has_news() {
            return now(WakeReason::Event);
        }
        let at = |left: u32, reason| match left {
            0 => now(reason),
            _ => Wake { when: When::At(after(self.common.clock.last(), Duration::from_ticks(left))), reason },
        };
        let due = self.wheel.next().map(|tick| self.common.clock.until(tick));
        let sends = (!self.ring.is_empty() || self.common.welcome.is_some())
            .then(|| self.common.set_point_hold().map_or(0, |hold| hold.as_ticks()));
        match (sends, due) {
            (Some(0), _) => now(WakeReason::Transmit),
            (Some(hold), due) if due.is_none_or(|due| hold <= due) => at(hold, WakeReason::SetPoint),
            (_, Some(due)) => at(due, WakeReason::Leaf),
            (_, None) => Wake { when: When::Idle, reason: WakeReason::Nothing },
        }
    }
}
