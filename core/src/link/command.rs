//! Commands of the application.

use super::{
    Link,
    event::{EndReason, SendError, Ticket},
    news::Probe,
};
use crate::{
    fcs::Fcs,
    frame::{Class, Extension, MessageNumber},
    framing::Framing,
    session::Reply,
    stats::Counter,
    time::Instant,
};

impl<F: Framing, C: Fcs, const FRAME: usize, const WINDOW: usize, const QUEUE: usize>
    Link<F, C, FRAME, WINDOW, QUEUE>
{
    /// Accepts a message for sending. `payload` begins with the message number (W-18).
    ///
    /// An errand or report ends in an [`Outcome`](super::Outcome) with this ticket; set-points and notices have none. Where the queue is full,
    /// a set-point or notice takes the place of the oldest waiting notice, which is dropped and counted as not sent; an errand or report is
    /// refused. A set-point replaces a waiting one with the same message number (W-43). Nothing is accepted while the link is down.
    ///
    /// # Errors
    /// Why it was not accepted: then it is certain that it was not sent.
    #[inline(never)]
    pub fn send(&mut self, now: Instant, class: Class, payload: &[u8]) -> Result<Ticket, SendError> {
        self.advance(now);
        MessageNumber::of(payload).ok_or(SendError::BadMessageNumber)?;
        let limit = self.far.max_payload().ok_or(SendError::NotOpen)?;
        if payload.len() > usize::from(limit) {
            return Err(SendError::TooLong { limit });
        }
        let (ticket, dropped) = self.outbox.accept(class, payload)?;
        self.measures.statistics.add(Counter::NotSent, dropped);
        Ok(ticket)
    }

    /// Sends a probe with some filling, in any state (W-48): at most 64 octets, or `FRAME` - 8 where that is less. One probe is under way at a time: a later one takes the place of
    /// an earlier one that was not answered.
    ///
    /// # Errors
    /// [`SendError::TooLong`], or [`SendError::QueueFull`] while another probe or an answer waits to be polled.
    #[inline(never)]
    pub fn probe(&mut self, now: Instant, id: u16, filling: &[u8]) -> Result<(), SendError> {
        self.advance(now);
        if self.wanted.has_body() {
            return Err(SendError::QueueFull);
        }
        let limit = FRAME.saturating_sub(8).min(64);
        if filling.len() > limit || !self.inbox.keep_body(&id.to_le_bytes(), filling) {
            return Err(SendError::TooLong { limit: u16::try_from(limit).unwrap_or(64) });
        }
        self.wanted.add(Extension::Probe);
        self.probe = Probe::new(id, now);
        Ok(())
    }

    /// Asks the peer for its statistics, in any state (W-48).
    pub fn ask_statistics(&mut self, now: Instant) {
        self.advance(now);
        self.wanted.add(Extension::StatisticsRequest);
    }

    /// Ends the session, if there is one, and stays down until [`reopen`](Self::reopen). The peer notices by silence.
    #[inline(never)]
    pub fn close(&mut self, now: Instant) {
        self.advance(now);
        if self.session.is_up() {
            self.end_session(EndReason::Closed);
        }
        self.owed = None;
        self.closed = true;
        self.note_news();
    }

    /// Opens again after [`close`](Self::close).
    #[inline(never)]
    pub fn reopen(&mut self, now: Instant) {
        self.advance(now);
        if self.closed {
            self.closed = false;
            if !self.is_hushed() {
                self.opening = self.fresh_opening();
                self.owed = Some(Reply::Ask);
            }
        }
    }
}
