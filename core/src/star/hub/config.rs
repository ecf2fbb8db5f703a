//! What the user states about a hub when it is made.

use crate::{
    frame::ResetCause,
    link::{Config, OwnNumber},
    time::Duration,
};

/// What the user states about a hub. Start from [`HubConfig::wire`] or [`HubConfig::datagram`] and change what differs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct HubConfig {
    /// The own number (W-22): from storage (read N, store N + 16 before the hub is made) or 32 random bits. A hub has one or the other: one that has neither
    /// could not be told from its own past by so many leaves.
    pub own: u32,
    /// The hub's long name; 0: none.
    pub identity: u64,
    /// Fingerprint of the agreement; 0: none, matches any.
    pub fingerprint: u32,
    /// Why the hub started.
    pub cause: ResetCause,
    /// Octets per second on the medium (a UART with ten bits an octet: baud / 10); 0: so fast that it does not matter.
    pub octet_rate: u32,
    /// Longest pause before a bare acknowledgement is sent to a leaf (T_ka), 0..=60 s; zero: no keep-alive and no promise to any leaf. At most 8.5 s count for the promise, which is three times this.
    pub keep_alive: Duration,
    /// Sendings of a confirmed message in all, at least 1 (W-37).
    pub tries: u8,
    /// How long a copy of a frame may live on an unordered medium (L), at most 30 s; zero on ordered ones.
    pub lifetime: Duration,
    /// A set-point is not started while more octets than this are unsent before it (W-46).
    pub set_point_backlog: u16,
    /// Messages that may wait for one leaf, at least 1: so that one that does not answer leaves room in the pool for the others.
    pub queue: u8,
    /// Seed of the random part of time-outs; 0: no random part (for tests). It should be another than those of the leaves.
    pub jitter_seed: u32,
}

impl HubConfig {
    /// A shared wire of UARTs with ten bits an octet (8N1) at `baud` bits per second; own number `own`.
    #[must_use]
    pub const fn wire(baud: u32, own: u32) -> Self {
        Self {
            own,
            identity: 0,
            fingerprint: 0,
            cause: ResetCause::Unknown,
            octet_rate: baud / 10,
            keep_alive: Duration::from_ticks(1_000_000),
            tries: 5,
            lifetime: Duration::from_ticks(0),
            set_point_backlog: 64,
            queue: 4,
            jitter_seed: 0x2545_F491,
        }
    }

    /// A medium of datagrams (a radio, UDP) of `octet_rate` octets per second whose frames are dead after `lifetime`.
    #[must_use]
    pub const fn datagram(octet_rate: u32, lifetime: Duration, own: u32) -> Self {
        Self { octet_rate, lifetime, ..Self::wire(0, own) }
    }

    /// The same, as a link states it.
    pub(super) fn of_link(&self) -> Config {
        Config {
            own: OwnNumber::Stored(self.own),
            identity: self.identity,
            fingerprint: self.fingerprint,
            cause: self.cause,
            octet_rate: self.octet_rate,
            keep_alive: self.keep_alive,
            tries: self.tries,
            lifetime: self.lifetime,
            set_point_backlog: self.set_point_backlog,
            ack_delay: Duration::from_ticks(0),
            jitter_seed: self.jitter_seed,
        }
    }
}
