//! What only links whose frames can overtake each other must remember (W-42, W-45).

use crate::{
    frame::{MessageNumber, Reject},
    rules::holds,
    seq::Serial,
    time::Duration,
    window::Pace,
};

/// Kinds of set-point that an unordered link can tell apart within one lifetime.
const KINDS: usize = 8;

/// The last one delivered of one kind, forgotten after a lifetime.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
struct Last {
    message: u16,
    number: Serial,
    /// Zero: forgotten.
    left: u32,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash, Default)]
pub(super) struct Overtaking {
    /// The lifetime of a frame (L), µs.
    pub(super) lifetime: u32,
    /// Time until the session has been open for a lifetime.
    pub(super) young: u32,
    pub(super) confirmed_pace: Pace,
    pub(super) set_point_pace: Pace,
    /// Those that are not forgotten stand first.
    last: [Last; KINDS],
}

impl Overtaking {
    pub(super) fn new(lifetime: u32) -> Self {
        Self { lifetime, ..Self::default() }
    }

    pub(super) fn elapse(&mut self, span: Duration) {
        self.young = self.young.saturating_sub(span.as_ticks());
        self.confirmed_pace.elapse(span, Duration::from_ticks(self.lifetime));
        self.set_point_pace.elapse(span, self.two_lifetimes());
        let mut kept = [Last::default(); KINDS];
        let left =
            self.last.iter().map(|last| Last { left: last.left.saturating_sub(span.as_ticks()), ..*last });
        for (cell, last) in kept.iter_mut().zip(left.filter(|last| last.left > 0)) {
            *cell = last;
        }
        self.last = kept;
    }

    pub(super) fn two_lifetimes(&self) -> Duration {
        Duration::from_ticks(self.lifetime.saturating_mul(2))
    }

    /// A session begins, or the link is down: no set-point is known.
    pub(super) fn forget_set_points(&mut self) {
        if holds(130) {
            self.last = Default::default();
        }
    }

    /// Whether a set-point is newer than the last one of its kind; takes note of it if it is.
    pub(super) fn judge(&mut self, message: MessageNumber, number: Serial) -> Result<(), Reject> {
        let new = Last { message: message.get(), number, left: self.lifetime };
        let known = self.last.iter_mut().find(|last| last.left == 0 || last.message == new.message);
        let Some(last) = known else { return Err(Reject::NoRoom) };
        if last.left > 0 {
            let newer = if holds(45) { number.is_newer_than(last.number) } else { number != last.number };
            if !newer {
                return Err(Reject::StaleSetPoint);
            }
        }
        if new.left > 0 {
            *last = new;
        }
        Ok(())
    }
}
