//! When a link must be served next, and why.

use crate::time::Instant;

/// When to call [`handle_timeout`](super::Link::handle_timeout) next, if nothing else happens before.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum When {
    /// At once: something is due, or the law of the loop was not kept.
    Now,
    /// At this time. Later is harmless but slow; earlier is harmless.
    At(Instant),
    /// Not before something is received or commanded.
    Idle,
}

/// What the next wake-up is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum WakeReason {
    /// Nothing is due.
    Nothing,
    /// An event waits to be polled.
    Event,
    /// A frame waits to be polled.
    Transmit,
    /// A numberless board keeps quiet after its start (W-36).
    Hush,
    /// To ask the peer to open (W-24).
    Opening,
    /// To keep the link alive (W-34).
    KeepAlive,
    /// A confirmed item times out (W-37).
    Resend,
    /// A set-point waits for the line to drain (W-46), or for its pace (W-45).
    SetPoint,
    /// A new number waits for its pace (W-42).
    Pace,
    /// An acknowledgement has waited long enough for a frame to ride along on.
    Acknowledge,
    /// The peer becomes quiet, or the session ends by silence (W-33).
    Silence,
}

/// The next wake-up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Wake {
    /// When.
    pub when: When,
    /// What for.
    pub reason: WakeReason,
}
