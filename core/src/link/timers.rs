//! Deadlines, kept as the time that is left so that equal states compare equal.

use crate::time::Duration;

/// All deadlines but those of single items and of the opening. Microseconds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub(super) struct Timers {
    /// To send something for the peer's sake (W-34).
    pub(super) keep_alive: Option<u32>,
    /// To call the peer quiet.
    pub(super) quiet: Option<u32>,
    /// To end the session (W-33).
    pub(super) silence: Option<u32>,
    /// To acknowledge without a frame to ride along on; zero: now.
    pub(super) ack: Option<u32>,
    /// To begin, on a numberless board (W-36).
    pub(super) hush: Option<u32>,
    /// Gates, open at zero: an OPEN prompted by a frame before the session (W-27) …
    pub(super) prompt: u32,
    /// … or by one of another session (W-32) …
    pub(super) ask: u32,
    /// … a probe answer, and statistics (W-48).
    pub(super) probe: u32,
    pub(super) statistics: u32,
    /// Time until the session has been open for a lifetime.
    pub(super) young: u32,
}

impl Timers {
    pub(super) fn elapse(&mut self, span: Duration) {
        let span = span.as_ticks();
        for timer in [&mut self.keep_alive, &mut self.quiet, &mut self.silence, &mut self.ack, &mut self.hush]
        {
            *timer = timer.map(|left| left.saturating_sub(span));
        }
        for gate in [&mut self.prompt, &mut self.ask, &mut self.probe, &mut self.statistics, &mut self.young]
        {
            *gate = gate.saturating_sub(span);
        }
    }

    /// Stops what belongs to a session.
    pub(super) fn leave_session(&mut self) {
        self.keep_alive = None;
        self.quiet = None;
        self.silence = None;
        self.ack = None;
        self.young = 0;
    }
}
