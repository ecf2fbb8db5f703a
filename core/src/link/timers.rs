//! Deadlines, kept as the time that is left so that equal states compare equal.

use crate::time::Duration;

/// A deadline that may be off.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) struct Timer(u32);

impl Default for Timer {
    fn default() -> Self {
        Self::OFF
    }
}

impl Timer {
    pub(super) const OFF: Self = Self(u32::MAX);
    /// Due now.
    pub(super) const DUE: Self = Self(0);

    /// Due after so many microseconds; those of `OFF` are none.
    pub(super) const fn after(ticks: u32) -> Self {
        Self(ticks)
    }

    pub(super) const fn is_off(self) -> bool {
        self.0 == u32::MAX
    }

    pub(super) const fn is_due(self) -> bool {
        self.0 == 0
    }

    /// The microseconds left; `None` if it is off.
    pub(super) const fn left(self) -> Option<u32> {
        if self.is_off() { None } else { Some(self.0) }
    }

    /// Due after so many microseconds, or when it was due before, if that is sooner.
    pub(super) fn no_later_than(self, ticks: u32) -> Self {
        Self(self.0.min(Self::after(ticks).0))
    }

    pub(super) const fn elapse(&mut self, span: u32) {
        if !self.is_off() {
            self.0 = self.0.saturating_sub(span);
        }
    }
}

/// All deadlines but those of single items and of the opening. Microseconds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub(super) struct Timers {
    /// To send something for the peer's sake (W-34).
    pub(super) keep_alive: Timer,
    /// Up: to end the session (W-33). Down: until then a numberless board keeps quiet (W-36).
    pub(super) silence: Timer,
    /// To acknowledge without a frame to ride along on.
    pub(super) ack: Timer,
    /// Gates, open at zero: an OPEN prompted by a frame before the session or of another session (W-27, W-32) …
    pub(super) prompt: u32,
    /// … a probe answer, and statistics (W-48).
    pub(super) probe: u32,
    pub(super) statistics: u32,
}

impl Timers {
    #[inline(always)]
    pub(super) fn elapse(&mut self, span: Duration) {
        let span = span.as_ticks();
        // One by one: a loop over references would take twice the instructions on a board.
        self.keep_alive.elapse(span);
        self.silence.elapse(span);
        self.ack.elapse(span);
        // Most of the time all gates are open.
        if self.prompt | self.probe | self.statistics > 0 {
            self.prompt = self.prompt.saturating_sub(span);
            self.probe = self.probe.saturating_sub(span);
            self.statistics = self.statistics.saturating_sub(span);
        }
    }

    /// Stops what belongs to a session.
    pub(super) fn leave_session(&mut self) {
        self.keep_alive = Timer::OFF;
        self.silence = Timer::OFF;
        self.ack = Timer::OFF;
    }
}
