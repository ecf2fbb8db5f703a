//! A leaf: its link with the hub, what goes to all, and how it comes to its address, as one machine.
//!
//! It joins a [`Link`] over [`Addressed`](super::Addressed), a [`BroadcastReceiver`], and JOIN and WELCOME of the roster
//! (W-60). When it may talk on the medium is another question: see [`Turn`](super::Turn), whose leaf's side [`take_given`](Leaf::take_given) and [`poll_turn`](Leaf::poll_turn)
//! serve, and [`Chance`](super::Chance).
//!
//! # Grammar and law
//! As a link's: `handle_*` takes what happened and the time, commands what the program wants, `poll_*` gives what the leaf wants. After any `handle_*` or command, drain
//! [`poll_event`](Leaf::poll_event), then [`poll_transmit`](Leaf::poll_transmit) until it gives `None`, then sleep until [`poll_wake`](Leaf::poll_wake) or until
//! something arrives.
//!
//! # What moves something
//! A set-point to all passes through the same [`DeadMan`](crate::setpoint::DeadMan) as one to this leaf alone ([`LeafEvent::of_link`]), and over a radio through a
//! [`Gate`](crate::setpoint::Gate) first (W-67). A freshness limit is a functional stop, no emergency stop: that is a circuit of its own that removes the power.
//!
//! # Example
//! The mast in the field asks the desk for an address, opens, reports the wind, and hears what goes to all.
//! ```
//! use bellwire::{
//!     fcs::Fcs16,
//!     frame::Class,
//!     framing::{Datagram, Lead},
//!     link::{Config, Event, OwnNumber},
//!     star::{Address, BroadcastSender, Hub, HubConfig, Leaf, LeafConfig, LeafEvent, Registrar, Roster, RosterEvent},
//!     time::{Duration, Instant},
//! };
//!
//! let (now, lifetime) = (Instant::from_ticks(0), Duration::from_ticks(200_000));
//! let mut desk = Hub::<Datagram, Fcs16, 8, 16, 64>::new(Datagram, HubConfig::datagram(1_000, lifetime, 0x1000), now);
//! let (mut registrar, mut all) = (Registrar::new(Roster::<8>::new(3600)), BroadcastSender::<16, 2>::new(0x1000, lifetime));
//! let link = Config { identity: 0xA57, ..Config::datagram(1_000, lifetime, OwnNumber::Random(0x2000)) };
//! let mut mast = Leaf::<Datagram>::new(Datagram, LeafConfig::new(link, Address::Asked), now);
//!
//! // It asks, and the desk writes it on the roster.
//! let mut air = [0; 80];
//! let len = mast.poll_transmit(now, &mut air).unwrap();
//! assert_eq!(registrar.handle_octets(&mut desk, now, &air[..len], 0), len);
//! assert!(matches!(registrar.poll(&mut desk, now, 0), Some(RosterEvent::Joined { identity: 0xA57, .. })));
//! let welcome = desk.poll_transmit(now, &mut air).unwrap();
//! assert_eq!(mast.handle_octets(now, &air[..welcome.len]), welcome.len);
//! assert_eq!(mast.poll_event(), Some(LeafEvent::Joined(1)));
//!
//! // The session opens, and the mast reports.
//! while desk.session(1).is_none() || mast.peer().is_none() {
//!     while let Some(len) = mast.poll_transmit(now, &mut air) {
//!         let _ = registrar.handle_octets(&mut desk, now, &air[..len], 0);
//!         while desk.poll_event().is_some() || registrar.poll(&mut desk, now, 0).is_some() {}
//!     }
//!     while let Some(sent) = desk.poll_transmit(now, &mut air) {
//!         let _ = mast.handle_octets(now, &air[..sent.len]);
//!         while mast.poll_event().is_some() {}
//!     }
//! }
//! mast.send(now, Class::Report, &[7, 42]).unwrap();
//! let len = mast.poll_transmit(now, &mut air).unwrap();
//! let _ = registrar.handle_octets(&mut desk, now, &air[..len], 0);
//! assert!(matches!(desk.poll_event().unwrap().event, Event::Message(message) if message.payload == [7, 42]));
//!
//! // The desk tells it which frames to all are its own, and sends one: every lamp at a tenth.
//! let told = all.tell(desk.session(1).unwrap());
//! let len = told.write::<_, Fcs16>(&Datagram, 1, Lead::Delimiter, &mut air);
//! let _ = mast.handle_octets(now, &air[..len]);
//! all.send(Class::SetPoint, &[4, 10]).unwrap();
//! let len = all.poll_transmit::<_, Fcs16>(&Datagram, Lead::Delimiter, &mut air).unwrap();
//! let _ = mast.handle_octets(now, &air[..len]);
//! let Some(LeafEvent::ToAll(message)) = mast.poll_event() else { panic!() };
//! assert_eq!(message.payload, [4, 10]);
//! ```

mod asleep;
mod command;
mod config;
mod event;
mod framing;
mod input;
mod joining;
mod output;

pub use config::{Address, LeafConfig};
pub use event::LeafEvent;

use core::hash::{Hash, Hasher};

use self::{framing::LeafFraming, joining::Joining};
use super::BroadcastReceiver;
use crate::{
    fcs::{Fcs, Fcs16},
    frame::Class,
    framing::{Cobs, Framing},
    link::{Link, Peer, State},
    rtt::RoundTrip,
    stats::Statistics,
    time::{Duration, Instant},
};

/// A message to all that waits to be told; its payload lies in the buffer of the link.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
struct ToAll {
    class: Class,
    number: u8,
    missed: u8,
    start: usize,
    len: usize,
}

/// A leaf of a star.
///
/// `FRAME`, `WINDOW` and `QUEUE` are those of its [`Link`]; a hub has a window of one. It is plain data: it can be cloned, compared and hashed.
///
/// See the [module](self) for the grammar, the law and an example. No method panics on any input.
#[derive(Debug, Clone)]
pub struct Leaf<
    F: Framing = Cobs,
    C = Fcs16,
    const FRAME: usize = 64,
    const WINDOW: usize = 1,
    const QUEUE: usize = 4,
> {
    link: Link<LeafFraming<F>, C, FRAME, WINDOW, QUEUE>,
    joining: Joining,
    to_all: BroadcastReceiver,
    found: Option<ToAll>,
    /// More waits at the hub.
    more: bool,
    /// A frame of the hub to this leaf has ended.
    given: bool,
}

impl<F: Framing, C: Fcs, const FRAME: usize, const WINDOW: usize, const QUEUE: usize>
    Leaf<F, C, FRAME, WINDOW, QUEUE>
{
    /// A leaf that asks for its address, or opens at once where that is known, as soon as it is served (a numberless board keeps quiet first, W-36).
    #[must_use]
    pub fn new(framing: F, config: LeafConfig, now: Instant) -> Self {
        let lifetime = if F::ORDERED { Duration::from_ticks(0) } else { config.link.lifetime };
        let link = Link::new(LeafFraming::new(framing, None), config.link, now);
        let joining = Joining::new(&config, link.asking());
        let to_all = BroadcastReceiver::new(lifetime);
        Self { link, joining, to_all, found: None, more: false, given: false }
    }

    /// The octets that one call of [`poll_transmit`](Self::poll_transmit) may need.
    #[must_use]
    pub fn max_transmit() -> usize {
        Link::<LeafFraming<F>, C, FRAME, WINDOW, QUEUE>::max_transmit()
    }

    /// Its address, while it has one.
    #[must_use]
    pub const fn address(&self) -> Option<u8> {
        self.joining.address()
    }

    /// The state of the link with the hub.
    #[must_use]
    pub const fn state(&self) -> State {
        self.link.state()
    }

    /// The hub, while a session is open.
    #[must_use]
    pub fn peer(&self) -> Option<Peer> {
        self.link.peer()
    }

    /// Whether the hub has told, in this session, which frames to all are its own (W-70): before that none is taken.
    #[must_use]
    pub const fn is_told(&self) -> bool {
        self.to_all.is_told()
    }

    /// Whether the hub said in its last acknowledgement that more waits for this leaf: one that sleeps stays awake (W-61).
    #[must_use]
    pub const fn more_waits(&self) -> bool {
        self.more
    }

    /// Whether a frame of the hub to this leaf has ended since the last call: on a shared wire that gives it the turn (W-58). Ask after every
    /// [`handle_octets`](Self::handle_octets), and if so call [`TurnTaken::given`](super::TurnTaken::given).
    #[must_use = "the turn is told once"]
    pub const fn take_given(&mut self) -> bool {
        core::mem::replace(&mut self.given, false)
    }

    /// The own number of the present or coming session (W-22), as [`Link::own_number`] gives it.
    #[must_use]
    pub const fn own_number(&self) -> u32 {
        self.link.own_number()
    }

    /// What was counted so far.
    #[must_use]
    pub const fn statistics(&self) -> &Statistics {
        self.link.statistics()
    }

    /// What is known about the round trip in this session.
    #[must_use]
    pub fn round_trip(&self) -> RoundTrip {
        self.link.round_trip()
    }

    /// Time passes.
    fn advance(&mut self, now: Instant) {
        let span = self.link.pass_time(now);
        self.elapse(span);
    }

    fn elapse(&mut self, span: Duration) {
        if span.as_ticks() > 0 {
            self.to_all.elapse(span);
            self.joining.elapse(span);
        }
    }

    /// The framing takes over what became of the asking for an address.
    const fn take_address(&mut self) {
        let address = self.joining.address();
        self.link.framing_mut().set_address(address);
    }

    /// The payload that waits to be told.
    fn waiting(&self) -> Option<&[u8]> {
        self.found.map(|found| self.link.frame(found.start, found.len))
    }
}

impl<F: Framing, C: Fcs, const FRAME: usize, const WINDOW: usize, const QUEUE: usize> PartialEq
    for Leaf<F, C, FRAME, WINDOW, QUEUE>
where
    Link<LeafFraming<F>, C, FRAME, WINDOW, QUEUE>: PartialEq,
{
    fn eq(&self, other: &Self) -> bool {
        self.link == other.link
            && self.joining == other.joining
            && self.to_all == other.to_all
            && (self.found, self.more, self.given) == (other.found, other.more, other.given)
            && self.waiting() == other.waiting()
    }
}

impl<F: Framing, C: Fcs, const FRAME: usize, const WINDOW: usize, const QUEUE: usize> Eq
    for Leaf<F, C, FRAME, WINDOW, QUEUE>
where
    Link<LeafFraming<F>, C, FRAME, WINDOW, QUEUE>: Eq,
{
}

impl<F: Framing, C: Fcs, const FRAME: usize, const WINDOW: usize, const QUEUE: usize> Hash
    for Leaf<F, C, FRAME, WINDOW, QUEUE>
where
    Link<LeafFraming<F>, C, FRAME, WINDOW, QUEUE>: Hash,
{
    fn hash<H: Hasher>(&self, state: &mut H) {
        self.link.hash(state);
        self.joining.hash(state);
        self.to_all.hash(state);
        (self.found, self.more, self.given).hash(state);
        self.waiting().hash(state);
    }
}

#[cfg(test)]
mod tests;
