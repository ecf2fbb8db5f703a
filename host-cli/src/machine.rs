//! The core's link behind one type, whatever its framing and FCS.

use bellwire::{
    fcs::{Fcs, Fcs16, Fcs32},
    frame::Class,
    framing::{Cobs, ControlMap, Datagram, Framing, OctetStuffing, RadioBoard, Slip},
    link::{Config, Event, Link, Peer, SendError, State, Ticket, Wake},
    star::Addressed,
    stats::Statistics,
    time::Instant,
};

use crate::endpoint::{FcsName, FramingName, Wiring};

/// Octets of the receive buffer: payloads up to 256 octets.
const FRAME: usize = 272;
/// The same with what a radio board puts around it.
const AROUND: usize = FRAME + 12;
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

/// Two boards on a medium that others share, by their addresses: 0 the hub, 1..=250 a leaf.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Between {
    /// This board.
    pub own: u8,
    /// The other end of the link.
    pub peer: u8,
}

/// A link with this wiring, for payloads up to 256 octets, with a window of 8 and room for 16 items.
#[must_use]
pub fn machine(wiring: Wiring, config: Config, now: Instant) -> Box<dyn Machine> {
    machine_between(wiring, None, config, now)
}

/// The same on a medium that others share, if `between` names both ends.
#[must_use]
pub fn machine_between(
    wiring: Wiring,
    between: Option<Between>,
    config: Config,
    now: Instant,
) -> Box<dyn Machine> {
    match wiring.fcs {
        FcsName::Bits16 => framed::<Fcs16>(wiring, between, config, now),
        FcsName::Bits32 => framed::<Fcs32>(wiring, between, config, now),
    }
}

fn framed<C: Fcs + Send + 'static>(
    wiring: Wiring,
    between: Option<Between>,
    config: Config,
    now: Instant,
) -> Box<dyn Machine> {
    let to = (between, config, now);
    match wiring.framing {
        FramingName::Cobs => boxed::<_, C, FRAME>(Cobs, to),
        FramingName::OctetStuffing => boxed::<_, C, FRAME>(OctetStuffing::new(ControlMap(wiring.map)), to),
        FramingName::Slip => boxed::<_, C, FRAME>(Slip, to),
        FramingName::Datagram => boxed::<_, C, FRAME>(Datagram, to),
        FramingName::RadioBoard => boxed::<_, C, AROUND>(RadioBoard, to),
    }
}

fn boxed<F, C, const FRAME: usize>(
    framing: F,
    (between, config, now): (Option<Between>, Config, Instant),
) -> Box<dyn Machine>
where
    F: Framing + Send + 'static,
    F::State: Send,
    C: Fcs + Send + 'static,
{
    match between {
        None => Box::new(Link::<F, C, FRAME, WINDOW, QUEUE>::new(framing, config, now)),
        Some(Between { own, peer }) => {
            let framing = Addressed { framing, own, peer };
            Box::new(Link::<_, C, FRAME, WINDOW, QUEUE>::new(framing, config, now))
        }
    }
}
