//! What of a [`Config`] is needed after the start.

use super::config::Config;
use crate::frame::ResetCause;

/// A timer that is longer is off (see [`Timer::OFF`](super::timers::Timer::OFF)).
pub(crate) const LONGEST_WAIT: u32 = u32::MAX - 1;

/// Times in microseconds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) struct Stated {
    /// The long name, least significant octet first: so it needs no alignment.
    identity: [u8; 8],
    pub(crate) fingerprint: u32,
    pub(crate) keep_alive: u32,
    pub(crate) ack_delay: u32,
    pub(crate) set_point_backlog: u16,
    pub(crate) cause: ResetCause,
    /// At least 1.
    pub(crate) tries: u8,
}

impl Stated {
    pub(crate) fn new(config: &Config) -> Self {
        Self {
            identity: config.identity.to_le_bytes(),
            fingerprint: config.fingerprint,
            keep_alive: config.keep_alive.as_ticks().min(LONGEST_WAIT),
            ack_delay: config.ack_delay.as_ticks().min(LONGEST_WAIT),
            set_point_backlog: config.set_point_backlog,
            cause: config.cause,
            tries: config.tries.max(1),
        }
    }

    pub(crate) const fn identity(&self) -> u64 {
        u64::from_le_bytes(self.identity)
    }
}
