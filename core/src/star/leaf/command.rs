//! Commands of the program: those of a link.

use super::Leaf;
use crate::{
    fcs::Fcs,
    frame::Class,
    framing::Framing,
    link::{SendError, Ticket},
    time::Instant,
};

impl<F: Framing, C: Fcs, const FRAME: usize, const WINDOW: usize, const QUEUE: usize>
    Leaf<F, C, FRAME, WINDOW, QUEUE>
{
    /// Accepts a message to the hub, as [`Link::send`](crate::link::Link::send) does.
    ///
    /// # Errors
    /// Why it was not accepted: then it is certain that it was not sent. Without an address, or before the session is open, that is [`SendError::NotOpen`].
    pub fn send(&mut self, now: Instant, class: Class, payload: &[u8]) -> Result<Ticket, SendError> {
        self.advance(now);
        self.link.send(now, class, payload)
    }

    /// Sends the hub a probe with some filling (W-48), as [`Link::probe`](crate::link::Link::probe) does; it goes out once the leaf has an address.
    ///
    /// # Errors
    /// [`SendError::TooLong`], or [`SendError::QueueFull`] while another probe or an answer waits to be polled.
    pub fn probe(&mut self, now: Instant, id: u16, filling: &[u8]) -> Result<(), SendError> {
        self.advance(now);
        self.link.probe(now, id, filling)
    }

    /// Asks the hub for its statistics (W-48).
    pub fn ask_statistics(&mut self, now: Instant) {
        self.advance(now);
        self.link.ask_statistics(now);
    }

    /// Ends the session, if there is one, and stays silent until [`reopen`](Self::reopen). The hub notices by silence.
    pub fn close(&mut self, now: Instant) {
        self.advance(now);
        self.link.close(now);
        self.joining.close();
    }

    /// Asks for its address, and opens, again after [`close`](Self::close).
    pub fn reopen(&mut self, now: Instant) {
        self.advance(now);
        self.link.reopen(now);
        self.joining.reopen();
    }

    /// Corrects the estimate of the octets that were polled but have not left yet (W-46): `octets` of them are still in the driver.
    pub fn handle_unsent(&mut self, now: Instant, octets: usize) {
        self.advance(now);
        self.link.handle_unsent(now, octets);
    }
}
