//! News of the session that wait to be told, and what is asked and owed outside it.

use super::{apart::Apart, event::EndReason};
use crate::{
    frame::{Extension, Reject},
    time::Instant,
};

/// A change between up and quiet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum Hearing {
    Quiet,
    Resumed,
}

/// Told in this order, after outcomes and before messages.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub(crate) struct News {
    pub(crate) ended: Option<EndReason>,
    pub(crate) mismatch: bool,
    pub(crate) opened: bool,
    pub(crate) hearing: Option<Hearing>,
    /// One frame can break two rules: in its acknowledgement and in its message.
    pub(crate) refused: [Option<Reject>; 2],
}

impl News {
    pub(crate) fn refuse(&mut self, reject: Reject) {
        let [first, second] = &mut self.refused;
        *(if first.is_none() { first } else { second }) = Some(reject);
    }

    pub(crate) fn next_refused(&mut self) -> Option<Reject> {
        let [first, second] = self.refused;
        self.refused = [second, None];
        first
    }

    pub(crate) const fn any(&self) -> bool {
        self.ended.is_some()
            || self.mismatch
            || self.opened
            || self.hearing.is_some()
            || matches!(self.refused, [Some(_), _])
    }
}

/// Octets of the longest body of a probe: id and filling.
pub(crate) const PROBE_LEN: usize = 66;

/// Extended frames to send (section 6); several can be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub(crate) struct Wanted(u8);

impl Wanted {
    /// A frame is to be sent.
    pub(crate) const fn add(&mut self, extension: Extension) {
        self.0 |= 1 << extension as u8;
    }

    pub(crate) const fn any(self) -> bool {
        self.0 != 0
    }

    const fn has(self, extension: Extension) -> bool {
        self.0 >> extension as u8 & 1 == 1
    }

    /// Whether the body in the inbox is in use.
    pub(crate) const fn has_body(self) -> bool {
        self.has(Extension::Probe) || self.has(Extension::ProbeAnswer)
    }

    /// Takes out the one to send next: a body before statistics, what is owed before what is asked.
    pub(crate) fn take(&mut self) -> Option<Extension> {
        use Extension::{Probe, ProbeAnswer, Statistics, StatisticsRequest};
        let order = [ProbeAnswer, Probe, Statistics, StatisticsRequest];
        let next = order.into_iter().find(|&extension| self.has(extension))?;
        self.0 &= !(1 << next as u8);
        Some(next)
    }
}

/// A probe of ours that is under way.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(crate) struct Probe {
    /// When it left.
    pub(crate) left: Apart<Instant>,
    /// 0 while none is under way.
    id: u16,
    under_way: bool,
}

impl Probe {
    pub(crate) const NONE: Self = Self { left: Apart(Instant::from_ticks(0)), id: 0, under_way: false };

    /// One with this id is sent; it takes the place of an earlier one.
    pub(crate) const fn new(id: u16, now: Instant) -> Self {
        Self { left: Apart(now), id, under_way: true }
    }

    /// An answer with this id has come: gives when its probe left, if that is the one under way.
    pub(crate) fn answered(&mut self, id: u16) -> Option<Instant> {
        if !self.under_way || self.id != id {
            return None;
        }
        let left = *self.left;
        *self = Self::NONE;
        Some(left)
    }
}
