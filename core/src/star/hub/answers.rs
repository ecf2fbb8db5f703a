//! Probes and statistics (W-48). The hub owes one answer of each sort at a time, whoever asks.

use crate::{frame::Extension, link::slot::Slot, time::Duration};

/// Octets of the longest body of a probe.
const LONGEST: usize = 66;

#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(super) struct Answers<const FRAME: usize> {
    /// The addresses of those who wait for one; 0: nobody.
    probe_for: u8,
    statistics_for: u8,
    /// µs until another one may be owed.
    probe_gate: u32,
    statistics_gate: u32,
    body: Slot<FRAME>,
}

impl<const FRAME: usize> Answers<FRAME> {
    pub(super) const NONE: Self =
        Self { probe_for: 0, statistics_for: 0, probe_gate: 0, statistics_gate: 0, body: Slot::EMPTY };

    pub(super) fn elapse(&mut self, span: Duration) {
        self.probe_gate = self.probe_gate.saturating_sub(span.as_ticks());
        self.statistics_gate = self.statistics_gate.saturating_sub(span.as_ticks());
    }

    /// Owes the answer to a probe with this body, if it may be.
    pub(super) fn probe(&mut self, leaf: u8, body: &[u8], t_min: u32) {
        let fits = self.probe_gate == 0 && self.probe_for == 0;
        if fits && self.body.keep(body.get(..LONGEST).unwrap_or(body)) {
            (self.probe_for, self.probe_gate) = (leaf, t_min);
        }
    }

    /// Owes statistics, if it may be.
    pub(super) fn statistics(&mut self, leaf: u8, t_min: u32) {
        if self.statistics_gate == 0 && self.statistics_for == 0 {
            (self.statistics_for, self.statistics_gate) = (leaf, t_min);
        }
    }

    pub(super) const fn owes(&self, leaf: u8) -> bool {
        self.probe_for == leaf || self.statistics_for == leaf
    }

    /// What is sent to this leaf now.
    pub(super) fn take(&mut self, leaf: u8) -> Extension {
        if self.probe_for == leaf {
            self.probe_for = 0;
            return Extension::ProbeAnswer;
        }
        self.statistics_for = 0;
        Extension::Statistics
    }

    pub(super) fn body(&self) -> &[u8] {
        self.body.octets()
    }
}
