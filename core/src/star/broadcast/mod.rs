//! Set-points and notices from the hub to all leaves at once (W-70).
//!
//! A frame to all belongs to no session of a single leaf, so it carries the hub's *broadcast number* where other frames carry the session number. The
//! hub has a new one at each start, and [tells](Told) it to a leaf inside that leaf's session. A leaf takes nothing that was sent before that.
//!
//! The hub holds one [`BroadcastSender`], each leaf one [`BroadcastReceiver`]; both are plain data and know no line. A set-point to all passes through the
//! same [`DeadMan`](crate::setpoint::DeadMan) as one to this leaf alone: a broadcast that ceases stops the leaf, without anybody's help.
//!
//! # Example
//! ```
//! use bellwire::{frame::{Class, View}, fcs::Fcs16, framing::{Datagram, Lead}, star::{BroadcastReceiver, BroadcastSender}, time::Duration};
//!
//! let lifetime = Duration::from_ticks(500_000);
//! let mut hub = BroadcastSender::<16, 4>::new(0x1_2345, lifetime);
//! let mut leaf = BroadcastReceiver::new(lifetime);
//! // The leaf's session (0x3001) is open, and the hub has told it.
//! leaf.opened(0x3001);
//! assert!(leaf.handle_told(hub.tell(0x3001)));
//!
//! // Message 4: every lamp at a tenth, for the astronomers' eyes.
//! hub.send(Class::SetPoint, &[4, 10]).unwrap();
//! let mut frame = [0; 32];
//! let len = hub.poll_transmit::<Datagram, Fcs16>(&Datagram, Lead::Delimiter, &mut frame).unwrap();
//!
//! let view = View::parse(&frame[..len - 2], true).unwrap();
//! assert_eq!(leaf.hear(&view), Ok(0), "new, and none was lost before it");
//! assert!(leaf.hear(&view).is_err(), "a copy");
//! ```

mod receiver;
mod sender;
mod told;

pub use receiver::BroadcastReceiver;
pub use sender::{BroadcastError, BroadcastSender, Waits};
pub use told::{TOLD_LEN, Told};

use crate::frame::Header;

/// The bits of a broadcast number: as many as a session number has (W-23).
const BITS: u32 = 0x3_FFFF;

/// Whether the frame is one to all, from the hub.
#[must_use]
pub(super) fn is_to_all(header: &Header) -> bool {
    header.addresses.is_some_and(|addresses| (addresses.to, addresses.from) == (255, 0))
        && header.kind.class().is_some_and(|class| !class.is_confirmed())
}

#[cfg(test)]
mod tests;
