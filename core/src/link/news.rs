//! News of the session that wait to be told, and what is owed to the peer.

use super::{apart::Apart, event::EndReason};
use crate::{frame::Reject, session::Reply, time::Instant};

/// A change between up and quiet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Hearing {
    Quiet,
    Resumed,
}

/// Told in this order, after outcomes and before messages.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub(super) struct News {
    pub(super) ended: Option<EndReason>,
    pub(super) mismatch: bool,
    pub(super) opened: bool,
    pub(super) hearing: Option<Hearing>,
    /// One frame can break two rules: in its acknowledgement and in its message.
    pub(super) refused: [Option<Reject>; 2],
}

impl News {
    pub(super) fn refuse(&mut self, reject: Reject) {
        let [first, second] = &mut self.refused;
        *(if first.is_none() { first } else { second }) = Some(reject);
    }

    pub(super) fn next_refused(&mut self) -> Option<Reject> {
        let [first, second] = self.refused;
        self.refused = [second, None];
        first
    }

    pub(super) const fn any(&self) -> bool {
        self.ended.is_some()
            || self.mismatch
            || self.opened
            || self.hearing.is_some()
            || matches!(self.refused, [Some(_), _])
    }
}

/// Octets of the longest body of a probe: id and filling.
pub(super) const PROBE_LEN: usize = 66;

/// What the body in store is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Role {
    Probe,
    Answer,
}

/// Extended frames to send (section 6).
#[derive(Debug, Clone, PartialEq, Eq, Hash, Default)]
pub(super) struct Exchange {
    /// One body is kept in the inbox; this is what it is.
    pub(super) role: Option<Role>,
    pub(super) asks_statistics: bool,
    pub(super) owes_statistics: bool,
    /// The probe that is under way, and when it left.
    pub(super) probe: Option<(u16, Apart<Instant>)>,
}

/// What is owed to the peer.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Default)]
pub(super) struct Owed {
    pub(super) open: Option<Reply>,
    pub(super) exchange: Exchange,
}
