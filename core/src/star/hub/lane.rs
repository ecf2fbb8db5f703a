//! What the hub keeps for one leaf: 60 octets.

use super::{
    clock::Clock,
    epochs::{Epochs, Paced},
    flags::{Flag, Flags},
    pool::NONE,
};
use crate::{
    link::set_points::SetPoints,
    retry::Retry,
    rtt::Estimator,
    seq::Serial,
    session::{Order, Reply, Session},
    time::Duration,
    window::{ReceiveWindow, SendWindow},
};

/// An OPEN to send. Whom a challenge is for, stands apart: a lane seldom owes one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Owed {
    Nothing,
    Ask,
    Answer,
    Challenge,
}

impl Owed {
    pub(super) const fn of(reply: Reply) -> Self {
        match reply {
            Reply::Ask => Self::Ask,
            Reply::Answer => Self::Answer,
            Reply::Challenge(_) => Self::Challenge,
        }
    }
}

/// A conversation with a window of 1. What a [`Link`](crate::link::Link) knows of its peer and never needs again is told and not kept.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(super) struct Lane {
    pub(super) session: Session,
    /// Down: of the opening. Up: of the message under way.
    pub(super) retry: Retry,
    /// The microsecond up to which `retry` has counted.
    counted: u32,
    pub(super) estimator: Estimator,
    pub(super) flags: Flags,
    /// Coarse ticks. Up: to end the session (W-33). Down: a digest of the stranger that was told of (W-30).
    pub(super) silence: u16,
    /// To send something for the leaf's sake (W-34). For one that sleeps: it listens until then, if it is awake.
    pub(super) keep_alive: u16,
    /// The gate of [`Flag::Prompted`] opens.
    pub(super) prompt: u16,
    /// The largest payload of the session, octets.
    pub(super) max_payload: u16,
    pub(super) out: SendWindow,
    pub(super) into: ReceiveWindow,
    pub(super) set_point_out: Serial,
    pub(super) notice_out: Serial,
    pub(super) set_points: SetPoints,
    pub(super) notices: Serial,
    pub(super) paced: Paced,
    /// The longest silence that the leaf promises, in units of 100 ms; 0: none.
    pub(super) promised: u8,
    /// Its messages in the pool.
    pub(super) first: u8,
    pub(super) owed: Owed,
}

impl Lane {
    /// No leaf.
    pub(super) fn new(mine: u32, order: Order) -> Self {
        Self::of(Session::new(mine, false, order))
    }

    /// The same, where there was one: its session number stays used.
    pub(super) fn of(session: Session) -> Self {
        Self {
            session,
            retry: Retry::new(Duration::from_ticks(0)),
            counted: 0,
            estimator: Estimator::new(),
            flags: Flags::default(),
            silence: 0,
            keep_alive: 0,
            prompt: 0,
            max_payload: 0,
            out: SendWindow::new(),
            into: ReceiveWindow::default(),
            set_point_out: Serial::default(),
            notice_out: Serial::default(),
            set_points: SetPoints::default(),
            notices: Serial::default(),
            paced: Paced::default(),
            promised: 0,
            first: NONE,
            owed: Owed::Nothing,
        }
    }

    pub(super) const fn has(&self, flag: Flag) -> bool {
        self.flags.has(flag)
    }

    pub(super) const fn set(&mut self, flag: Flag, on: bool) {
        self.flags.set(flag, on);
    }

    /// Time has passed since the lane was last looked at.
    pub(super) fn catch_up(&mut self, clock: &Clock, epochs: &Epochs) {
        let now = clock.micros();
        let span = now.wrapping_sub(self.counted);
        if span > 0 {
            self.counted = now;
            self.retry.elapse(Duration::from_ticks(span));
        }
        self.paced.look(epochs);
        if self.has(Flag::Prompted) && clock.has_come(self.prompt) {
            self.set(Flag::Prompted, false);
        }
    }

    /// Longest silence that it promises.
    pub(super) fn promise(&self) -> Duration {
        Duration::from_ticks(u32::from(self.promised).saturating_mul(100_000))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lane_takes_60_octets() {
        assert_eq!(size_of::<Lane>(), 60);
    }
}
