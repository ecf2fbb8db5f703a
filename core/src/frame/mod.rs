//! Frames: header, kinds, view and owned form, and the rejects that name the broken rule (W-12 to W-21).
//!
//! A [`View`] borrows the octets of a checked frame; [`Header`] is its owned head, which cannot hold nonsense.

mod header;
mod kind;
mod message;
mod open;
mod reader;
mod reject;
mod writer;

pub use header::{Ack, Addresses, Head, Header, MAX_HEADER, View};
pub use kind::{Class, Extension, Kind};
pub use message::{MAX_MESSAGE_NUMBER, MessageNumber};
pub use open::{OPEN_LEN, Open, ResetCause, WIRE_VERSION};
pub use reader::{Read, Reader};
pub use reject::Reject;
pub use writer::{max_wire_len, write};

/// Smallest and largest payload that a link may state in its OPEN, octets, message number included (W-20).
pub const PAYLOAD_RANGE: core::ops::RangeInclusive<u16> = 16..=1024;

#[cfg(test)]
mod tests;
