//! What is due when time has passed.

use super::{Link, event::EndReason, news::Hearing, timers::Timer};
use crate::{
    fcs::Fcs,
    framing::Framing,
    rules::holds,
    session::Reply,
    time::{Duration, Instant},
};

impl<F: Framing, C: Fcs, const FRAME: usize, const WINDOW: usize, const QUEUE: usize>
    Link<F, C, FRAME, WINDOW, QUEUE>
{
    /// Does what is due at `now`. Early or needless calls are harmless; late ones make the link slow, not wrong.
    #[inline(never)]
    pub fn handle_timeout(&mut self, now: Instant) {
        self.advance(now);
        if self.session.is_up() {
            self.time_out_session();
        } else {
            self.time_out_opening();
        }
        self.note_news();
    }

    /// Corrects the estimate of the octets that were polled but have not left yet (W-46): `octets` of them are still in the driver.
    pub fn handle_unsent(&mut self, now: Instant, octets: usize) {
        self.advance(now);
        self.line.correct(octets);
    }

    /// Begins when a numberless board has kept quiet long enough (W-36), and asks again (W-24).
    fn time_out_opening(&mut self) {
        if self.timers.silence.is_due() {
            self.timers.silence = Timer::OFF;
            self.owed = (!self.closed).then_some(Reply::Ask);
        }
        let waits = self.closed || self.is_hushed() || self.owed.is_some();
        if waits || self.opening.left().as_ticks() > 0 {
            return;
        }
        let policy = self.opening_policy();
        let _ = self.opening.expire(&policy, &mut self.measures.dice);
        if holds(24) {
            self.owed = Some(Reply::Ask);
        } else {
            self.opening.sent(Duration::from_ticks(0));
        }
    }

    fn time_out_session(&mut self) {
        if self.timers.silence.is_due() {
            self.timers.silence = Timer::OFF;
            if !holds(122) {
                self.inbox.clear();
                let _ = self.outbox.end(EndReason::Silence);
            } else if holds(33) {
                return self.end_session(EndReason::Silence);
            }
        }
        if self.quiet_wait() == Some(0) {
            self.quiet = true;
            self.news.hearing = Some(Hearing::Quiet);
        }
        if self.timers.keep_alive.is_due() {
            self.keep_alive();
            self.acknowledge_now();
        }
        let policy = self.item_policy();
        self.outbox.expire(&policy, &mut self.measures.dice);
    }
}
