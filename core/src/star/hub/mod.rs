//! The hub: one machine that holds the conversations with all its leaves and polls them as one.
//!
//! At the other end each leaf has an ordinary [`Link`](crate::link::Link) over [`Addressed`](super::Addressed); on the wire the two cannot be told apart (W-62). Each conversation
//! has a window of one. What waits to be sent, to whomever, lies in one pool of `POOL` frames; there is one receive buffer.
//!
//! # Grammar and law
//! As a link's: `handle_*` takes what happened and the time, commands what the program wants, `poll_*` gives what the hub wants. After any `handle_*` or
//! command, drain [`poll_event`](Hub::poll_event), then [`poll_transmit`](Hub::poll_transmit) until it gives `None`, then sleep until
//! [`poll_wake`](Hub::poll_wake) or until something arrives.
//!
//! Who may talk on the medium is another question: on a line in both directions anyone; on a shared half-duplex wire the caller polls with
//! [`poll_transmit_to`](Hub::poll_transmit_to) for the leaf to which [`Turn`](super::Turn) gives the turn; on a radio it polls when [`Chance`](super::Chance) lets it.
//!
//! # What it costs
//! Leaves are found by their address; those with something to send stand in a ring, deadlines in a timing wheel. So no call looks at leaves that have nothing
//! to do with it, and its cost does not grow with their number.
//!
//! # The loop
//! ```
//! use bellwire::{
//!     fcs::Fcs16,
//!     frame::Class,
//!     framing::Cobs,
//!     link::{Config, Event, Link, OwnNumber, Outcome},
//!     star::{Addressed, Hub, HubConfig, Speaks},
//!     time::Instant,
//! };
//!
//! let now = Instant::from_ticks(0);
//! // The desk, with room for eight leaves and sixteen frames of 64 octets; the dome is leaf 1.
//! let mut desk = Hub::<Cobs, Fcs16, 8, 16, 64>::new(Cobs, HubConfig::wire(115_200, 0x1000), now);
//! desk.admit(now, 1, Speaks::Hub);
//! let framing = Addressed { framing: Cobs, own: 1, peer: 0 };
//! let mut dome: Link<Addressed<Cobs>, Fcs16> = Link::new(framing, Config::uart(115_200, OwnNumber::Stored(7)), now);
//!
//! let (mut delivered, mut sent) = (false, false);
//! let mut frame = [0; 80];
//! while !delivered {
//!     // What the desk has to send, to the dome.
//!     while let Some(transmit) = desk.poll_transmit(now, &mut frame) {
//!         let mut octets = &frame[..transmit.len];
//!         while !octets.is_empty() {
//!             octets = &octets[dome.handle_octets(now, octets)..];
//!             while let Some(event) = dome.poll_event() {
//!                 if let Event::Message(message) = event {
//!                     assert_eq!(message.payload, [9, 40]);
//!                 }
//!             }
//!         }
//!     }
//!     // And back.
//!     while let Some(len) = dome.poll_transmit(now, &mut frame) {
//!         let mut octets = &frame[..len];
//!         while !octets.is_empty() {
//!             octets = &octets[desk.handle_octets(now, octets)..];
//!             while let Some(told) = desk.poll_event() {
//!                 delivered |= matches!(told.event, Event::Outcome { outcome: Outcome::Delivered, .. });
//!             }
//!         }
//!     }
//!     if desk.session(1).is_some() && !sent {
//!         desk.send(now, 1, Class::Errand, &[9, 40]).unwrap();
//!         sent = true;
//!     }
//! }
//! ```

mod answers;
mod awake;
mod challenges;
mod clock;
mod command;
mod common;
mod config;
mod confirmed;
mod epochs;
mod event;
mod flags;
mod input;
mod item;
mod joining;
mod lane;
mod lasts;
mod news;
mod opening;
mod output;
mod pool;
mod ring;
mod timeout;
mod transmit;
mod wake;
mod wheel;

pub use config::HubConfig;
pub use event::{HubEvent, Speaks, Transmit};

use self::{common::Common, flags::Flag, lane::Lane, ring::Ring, wheel::Wheel};
use crate::{
    fcs::{Fcs, Fcs16},
    framing::{Cobs, Framing},
    link::State,
    session::Order,
    stats::Statistics,
    time::Instant,
};

/// The order that a medium keeps, as a session sees it.
const fn order<F: Framing>() -> Order {
    if F::ORDERED { Order::Ordered } else { Order::Unordered }
}

/// Where the leaf at an address lies.
fn place(leaf: u8) -> Option<usize> {
    usize::from(leaf).checked_sub(1)
}

/// The address of the leaf that lies there; at most 250.
fn address(place: usize) -> u8 {
    u8::try_from(place.saturating_add(1)).unwrap_or(u8::MAX)
}

/// A hub with up to `LEAVES` leaves (1..=250), at the addresses 1..=`LEAVES` of one medium.
///
/// `POOL` (1..=254) messages wait or are under way, for all leaves together; `FRAME` is the size of the receive buffer and of each place in the
/// pool in octets (48..=1040); the largest payload is `FRAME` - 16. Other sizes do not compile.
///
/// See the [module](self) for the grammar, the law and the loop. No method panics on any input.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Hub<
    F: Framing = Cobs,
    C = Fcs16,
    const LEAVES: usize = 8,
    const POOL: usize = 16,
    const FRAME: usize = 64,
> {
    common: Common<F, C, POOL, FRAME>,
    ring: Ring<LEAVES>,
    wheel: Wheel<LEAVES>,
    lanes: [Lane; LEAVES],
}

impl<F: Framing, C: Fcs, const LEAVES: usize, const POOL: usize, const FRAME: usize>
    Hub<F, C, LEAVES, POOL, FRAME>
{
    /// A hub without leaves: [`admit`](Self::admit) them.
    #[must_use]
    #[inline(never)]
    pub fn new(framing: F, config: HubConfig, now: Instant) -> Self {
        const {
            assert!(LEAVES >= 1 && LEAVES <= 250, "a hub has 1 to 250 leaves");
            assert!(POOL >= 1 && POOL <= 254, "POOL must be 1..=254");
            assert!(FRAME >= 48 && FRAME <= 1040, "FRAME must be 48..=1040 octets");
        }
        Self {
            common: Common::new(framing, &config, now),
            ring: Ring::new(),
            wheel: Wheel::new(),
            lanes: core::array::from_fn(|_| Lane::new(config.own, order::<F>())),
        }
    }

    /// The octets that one call of [`poll_transmit`](Self::poll_transmit) may need.
    #[must_use]
    pub fn max_transmit() -> usize {
        F::max_encoded_len(FRAME.saturating_add(2))
    }

    fn lane(&self, leaf: u8) -> Option<&Lane> {
        self.lanes.get(place(leaf)?)
    }

    /// The state of a leaf; down for one that was not admitted.
    #[must_use]
    pub fn state(&self, leaf: u8) -> State {
        match self.lane(leaf) {
            Some(lane) if lane.session.is_up() => {
                if lane.has(Flag::Quiet) {
                    State::Quiet
                } else {
                    State::Up
                }
            }
            _ => State::Down,
        }
    }

    /// The number of the session with a leaf (W-23), while one is open.
    #[must_use]
    pub fn session(&self, leaf: u8) -> Option<u32> {
        self.lane(leaf).filter(|lane| lane.session.is_up()).map(|lane| lane.session.number())
    }

    /// The largest own number in use (W-22). It rises with sessions that end: a hub that stores its number must have stored a larger one before this reaches
    /// what it stored.
    #[must_use]
    pub const fn own_number(&self) -> u32 {
        self.common.highest
    }

    /// What was counted so far, for all leaves together. Round trip and time-out are not told here: each leaf has its own.
    #[must_use]
    pub fn statistics(&self) -> &Statistics {
        &self.common.statistics
    }
}

#[cfg(test)]
mod tests;
