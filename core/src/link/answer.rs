//! Probes and statistics, which belong to no session (W-48).

use super::{
    Link,
    apart::Apart,
    input::Received,
    news::PROBE_LEN,
    receiver::{Found, Span},
};
use crate::{fcs::Fcs, frame::Extension, framing::Framing, rules::holds, stats::Counters, time::elapsed};

impl<F: Framing, C: Fcs, const FRAME: usize, const WINDOW: usize, const QUEUE: usize>
    Link<F, C, FRAME, WINDOW, QUEUE>
{
    #[inline(never)]
    pub(super) fn handle_extended(&mut self, received: Received<'_>) {
        self.hasten_opening();
        match received.header.extension {
            Some(Extension::Probe) if holds(48) => self.answer_probe(received.span),
            Some(Extension::StatisticsRequest) if holds(48) && self.timers.statistics == 0 => {
                self.timers.statistics = self.t_min();
                self.wanted.add(Extension::Statistics);
            }
            Some(Extension::ProbeAnswer) => self.take_answer(received),
            Some(Extension::Statistics) => {
                let known = Counters::parse(self.receiver.octets(received.span)).is_some();
                self.receiver.found = known.then_some(Found::Statistics(received.span));
            }
            _ => {}
        }
    }

    /// Owes the answer, unless one was given less than T_min ago or another body is in store.
    fn answer_probe(&mut self, span: Span) {
        if self.timers.probe > 0 || self.wanted.has_body() {
            return;
        }
        let body = self.receiver.octets(span);
        let body = body.get(..PROBE_LEN).unwrap_or(body);
        if self.inbox.keep_body(body, &[]) {
            self.timers.probe = self.t_min();
            self.wanted.add(Extension::ProbeAnswer);
        }
    }

    /// The answer to the probe that is under way; any other is skipped.
    fn take_answer(&mut self, received: Received<'_>) {
        let Some(&id) = self.receiver.octets(received.span).first_chunk::<2>() else { return };
        let id = u16::from_le_bytes(id);
        if let Some(left) = self.probe.answered(id) {
            let round_trip = Apart(elapsed(self.measures.last, left));
            self.receiver.found = Some(Found::ProbeAnswer { id, round_trip });
        }
    }
}
