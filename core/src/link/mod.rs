//! The point-to-point machine: a conversation over one line, without I/O and without a clock.

mod config;
mod event;
mod wake;

use core::marker::PhantomData;

pub use config::{Config, OwnNumber};
pub use event::{EndReason, Event, Message, Outcome, Peer, SendError, State, Terms, Ticket};
pub use wake::{Wake, WakeReason, When};

use crate::{
    fcs::{Fcs, Fcs16},
    frame::Class,
    framing::{Cobs, Framing},
    rtt::RoundTrip,
    stats::Statistics,
    time::Instant,
};

/// A link between two boards.
///
/// `FRAME` is the size of the receive buffer in octets (48..=1040); the largest payload is `FRAME` - 16. `WINDOW` (1..=8) confirmed
/// frames may be under way each way, and `QUEUE` (at least `WINDOW`) items wait or are under way for sending.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Link<F = Cobs, C = Fcs16, const FRAME: usize = 64, const WINDOW: usize = 1, const QUEUE: usize = 4>
{
    statistics: Statistics,
    parts: PhantomData<(F, C)>,
}

impl<F: Framing, C: Fcs, const FRAME: usize, const WINDOW: usize, const QUEUE: usize>
    Link<F, C, FRAME, WINDOW, QUEUE>
{
    /// The largest payload that the receive buffer allows, octets, message number included.
    pub const MAX_PAYLOAD: usize = FRAME.saturating_sub(16);

    /// A link that is down and asks its peer to open as soon as it is served.
    #[must_use]
    pub fn new(framing: F, config: Config, now: Instant) -> Self {
        let _ = (framing, config, now);
        Self { statistics: Statistics::new(), parts: PhantomData }
    }

    /// The octets that one call of [`poll_transmit`](Self::poll_transmit) may need.
    #[must_use]
    pub fn max_transmit() -> usize {
        F::max_encoded_len(FRAME)
    }

    /// Takes octets that arrived at `arrived`; gives how many are done with. It stops after an octet that completes something to
    /// tell: drain [`poll_event`](Self::poll_event), then feed the rest. While an event waits it takes none.
    ///
    /// On a datagram link `octets` is one whole datagram.
    #[must_use]
    pub fn handle_octets(&mut self, arrived: Instant, octets: &[u8]) -> usize {
        let _ = arrived;
        octets.len()
    }

    /// Does what is due at `now`. Early or needless calls are harmless.
    pub fn handle_timeout(&mut self, now: Instant) {
        let _ = now;
    }

    /// Corrects the estimate of the octets that have been polled but have not left yet (W-46).
    pub fn handle_unsent(&mut self, now: Instant, octets: usize) {
        let _ = (now, octets);
    }

    /// Accepts a message for sending. `payload` begins with the message number.
    ///
    /// # Errors
    /// Why it was not accepted: then it is certain that it was not sent.
    pub fn send(&mut self, now: Instant, class: Class, payload: &[u8]) -> Result<Ticket, SendError> {
        let _ = (now, class, payload);
        Err(SendError::NotOpen)
    }

    /// Sends a probe with up to 64 octets of filling, in any state (W-48).
    ///
    /// # Errors
    /// [`SendError::TooLong`], or [`SendError::QueueFull`] while another probe or an answer waits to be polled.
    pub fn probe(&mut self, now: Instant, id: u16, filling: &[u8]) -> Result<(), SendError> {
        let _ = (now, id, filling);
        Ok(())
    }

    /// Asks the peer for its statistics, in any state (W-48).
    pub fn ask_statistics(&mut self, now: Instant) {
        let _ = now;
    }

    /// Ends the session, if there is one, and stays down until [`reopen`](Self::reopen).
    pub fn close(&mut self, now: Instant) {
        let _ = now;
    }

    /// Opens again after [`close`](Self::close).
    pub fn reopen(&mut self, now: Instant) {
        let _ = now;
    }

    /// The next event, oldest first; payloads are borrowed until the next call.
    #[must_use]
    pub fn poll_event(&mut self) -> Option<Event<'_>> {
        None
    }

    /// Writes the next frame into `out`, encoded and ready for the line; gives its length.
    ///
    /// `out` should hold [`max_transmit`](Self::max_transmit) octets. A frame that does not fit is given as no octets at all, as
    /// if the line had lost it.
    #[must_use]
    pub fn poll_transmit(&mut self, now: Instant, out: &mut [u8]) -> Option<usize> {
        let _ = (now, out);
        None
    }

    /// When the link must be served next, and why.
    #[must_use]
    pub fn poll_wake(&self) -> Wake {
        Wake { when: When::Idle, reason: WakeReason::Nothing }
    }

    /// The state.
    #[must_use]
    pub fn state(&self) -> State {
        State::Down
    }

    /// The other board, while a session is open.
    #[must_use]
    pub fn peer(&self) -> Option<Peer> {
        None
    }

    /// What was counted so far.
    #[must_use]
    pub fn statistics(&self) -> &Statistics {
        &self.statistics
    }

    /// What is known about the round trip.
    #[must_use]
    pub fn round_trip(&self) -> RoundTrip {
        RoundTrip { smoothed: None, time_out: crate::time::LONGEST }
    }
}
