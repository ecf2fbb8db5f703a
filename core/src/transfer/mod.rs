//! Long transfers: a configuration, a log or a picture that is larger than a frame, in parts (W-52 to W-57).
//!
//! A [`Sender`] offers, sends the parts of a window, and asks on the last of them what has come; a [`Receiver`] answers with a [`Map`] of the parts it
//! holds. Both are sans-IO and hold no content: the sender reads each part from the caller, the receiver hands each to the caller to store and counts it once it
//! *is* stored. So either side may restart at any moment: what is resent is the part that was on its way, and one map.
//!
//! A transfer is known by its number and the CRC-32 of its whole content, and each part has one place and one length. So a part that comes late,
//! twice or from before a restart is the same part; none can overlap another, and nothing that arrives makes either side grow.
//! Until frames are sealed, anyone who can send can still stop a transfer, or spoil it so that the whole check refuses it.
//!
//! Time is handed in as spans ([`Sender::elapse`], [`Receiver::elapse`]). Bodies travel in EXTENDED frames, behind all other classes: ask
//! `poll_transmit` only when nothing else waits.

mod message;
mod parts;
mod reason;
mod receiver;
mod saved;
mod sender;
mod whole;

pub use message::{Id, MAP_LEN, MAX_SIZE, Map, Message, OFFER_LEN, Offer, PART_HEAD};
pub use reason::{Reason, Refused};
pub use receiver::{Input, Limits, Receiver, State};
pub use saved::SAVED_LEN;
pub use sender::{Outcome, Pace, Sender};
pub use whole::{Whole, crc_of};

/// Most parts under way at once (W-54).
pub const MAX_WINDOW: u8 = 32;

/// How far a transfer is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Progress {
    /// Octets that the receiver is known to hold.
    pub held: u32,
    /// Octets in all.
    pub size: u32,
}

#[cfg(test)]
mod tests;
