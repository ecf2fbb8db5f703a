//! The core's link behind one type, whatever its framing and FCS.

use bellwire::{
    fcs::{Fcs, Fcs16, Fcs32},
    frame::Class,
    framing::{Cobs, ControlMap, Datagram, Framing, OctetStuffing, RadioBoard, Slip},
    link::{Config, Event, Link, Peer, SendError, State, Ticket, Wake},
    stats::Statistics,
    time::Instant,
};

use crate::endpoint::{FcsName, FramingName, Wiring};

/// Octets of the receive buffer: payloads up to 256 octets.
const FRAME: usize = 272;
/// Confirmed frames under way each way.
const WINDOW: usize = 8;
/// Items that wait or are under way.
const QUEUE: usize = 16;

/// What the tool does with a [`Link`].
pub trait Machine: Send {
    /// See [`Link::handle_octets`].
    fn handle_octets(&mut self, arrived: Instant, octets: &[u8]) -> usize;
    /// See [`Link::handle_timeout`].
    fn handle_timeout(&mut self, now: Instant);
    /// See [`Link::handle_unsent`].
    fn handle_unsent(&mut self, now: Instant, octets: usize);
    /// See [`Link::send`].
    ///
    /// # Errors
    /// Why it was not accepted.
    fn send(&mut self, now: Instant, class: Class, payload: &[u8]) -> Result<Ticket, SendError>;
    /// See [`Link::close`].
    fn close(&mut self, now: Instant);
    /// See [`Link::poll_event`].
    fn poll_event(&mut self) -> Option<Event<'_>>;
    /// See [`Link::poll_transmit`].
    fn poll_transmit(&mut self, now: Instant, out: &mut [u8]) -> Option<usize>;
    /// See [`Link::poll_wake`].
    fn poll_wake(&self) -> Wake;
    /// See [`Link::state`].
    fn state(&self) -> State;
    /// See [`Link::peer`].
    fn peer(&self) -> Option<Peer>;
    /// See [`Link::statistics`].
    fn statistics(&self) -> &Statistics;
    /// See [`Link::max_transmit`].
    fn max_transmit(&self) -> usize;
}

impl<F, C, const FRAME: usize, const WINDOW: usize, const QUEUE: usize> Machine
    for Link<F, C, FRAME, WINDOW, QUEUE>
where
    F: Framing + Send,
    C: Fcs + Send,
    F::State: Send,
{
    fn handle_octets(&mut self, arrived: Instant, octets: &[u8]) -> usize {
        Link::handle_octets(self, arrived, octets)
    }
    fn handle_timeout(&mut self, now: Instant) {
        Link::handle_timeout(self, now);
    }
    fn handle_unsent(&mut self, now: Instant, octets: usize) {
        Link::handle_unsent(self, now, octets);
    }
    fn send(&mut self, now: Instant, class: Class, payload: &[u8]) -> Result<Ticket, SendError> {
        Link::send(self, now, class, payload)
    }
    fn close(&mut self, now: Instant) {
        Link::close(self, now);
    }
    fn poll_event(&mut self) -> Option<Event<'_>> {
        Link::poll_event(self)
    }
    fn poll_transmit(&mut self, now: Instant, out: &mut [u8]) -> Option<usize> {
        Link::poll_transmit(self, now, out)
    }
    fn poll_wake(&self) -> Wake {
        Link::poll_wake(self)
    }
    fn state(&self) -> State {
        Link::state(self)
    }
    fn peer(&self) -> Option<Peer> {
        Link::peer(self)
    }
    fn statistics(&self) -> &Statistics {
        Link::statistics(self)
    }
    fn max_transmit(&self) -> usize {
        Self::max_transmit()
    }
}

/// A link with this wiring, for payloads up to 256 octets, with a window of 8 and room for 16 items.
#[must_use]
pub fn machine(wiring: Wiring, config: Config, now: Instant) -> Box<dyn Machine> {
    match wiring.fcs {
        FcsName::Bits16 => framed::<Fcs16>(wiring, config, now),
        FcsName::Bits32 => framed::<Fcs32>(wiring, config, now),
    }
}

fn framed<C: Fcs + Send + 'static>(wiring: Wiring, config: Config, now: Instant) -> Box<dyn Machine> {
    match wiring.framing {
        FramingName::Cobs => boxed::<_, C>(Cobs, config, now),
        FramingName::OctetStuffing => boxed::<_, C>(OctetStuffing::new(ControlMap(wiring.map)), config, now),
        FramingName::Slip => boxed::<_, C>(Slip, config, now),
        FramingName::Datagram => boxed::<_, C>(Datagram, config, now),
        FramingName::RadioBoard => boxed::<_, C>(RadioBoard, config, now),
    }
}

fn boxed<F, C>(framing: F, config: Config, now: Instant) -> Box<dyn Machine>
where
    F: Framing + Send + 'static,
    F::State: Send,
    C: Fcs + Send + 'static,
{
    Box::new(Link::<F, C, FRAME, WINDOW, QUEUE>::new(framing, config, now))
}
