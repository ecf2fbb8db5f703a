//! What the user states about a link when it is made.

use crate::{frame::ResetCause, time::Duration};

/// Where the board's own number comes from (W-22), best first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum OwnNumber {
    /// From storage: the program read N and has stored N + 16 before it made the link.
    Stored(u32),
    /// 32 random bits.
    Random(u32),
    /// Neither storage nor randomness: the link keeps quiet for two lifetimes after each start (W-36).
    Numberless,
}

/// What the user states about a link. Start from [`Config::uart`], [`Config::stream`] or [`Config::datagram`] and change what differs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Config {
    /// The board's own number.
    pub own: OwnNumber,
    /// The board's long name; 0: none.
    pub identity: u64,
    /// Fingerprint of the agreement; 0: none, matches any.
    pub fingerprint: u32,
    /// Why the board started.
    pub cause: ResetCause,
    /// Octets per second on the line (a UART with ten bits an octet: baud / 10); 0: so fast that it does not matter.
    pub octet_rate: u32,
    /// Longest pause before a bare acknowledgement is sent (T_ka); zero: no keep-alive and no promise to the peer. At most 8.5 s count
    /// for the promise, which is three times this.
    pub keep_alive: Duration,
    /// Sendings of a confirmed item in all, at least 1 (W-37).
    pub tries: u8,
    /// How long a copy of a frame may live on an unordered link (L); zero on ordered ones.
    pub lifetime: Duration,
    /// A set-point is not started while more octets than this are unsent before it (W-46).
    pub set_point_backlog: u16,
    /// How long an acknowledgement may wait for a frame to ride along on.
    pub ack_delay: Duration,
    /// Seed of the random part of time-outs; 0: no random part (for tests). Two ends should have different ones.
    pub jitter_seed: u32,
}

impl core::hash::Hash for Config {
    fn hash<H: core::hash::Hasher>(&self, state: &mut H) {
        (self.own, self.identity, self.fingerprint, self.cause, self.octet_rate, self.tries).hash(state);
        (self.keep_alive.as_ticks(), self.lifetime.as_ticks(), self.ack_delay.as_ticks()).hash(state);
        (self.set_point_backlog, self.jitter_seed).hash(state);
    }
}

impl Config {
    /// A UART with ten bits an octet (8N1) at `baud` bits per second; own number `own`.
    #[must_use]
    pub const fn uart(baud: u32, own: OwnNumber) -> Self {
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
            ack_delay: Duration::from_ticks(0),
            jitter_seed: 0x2545_F491,
        }
    }

    /// An ordered stream without a rate of its own: a pseudo-terminal, TCP.
    #[must_use]
    pub const fn stream(own: OwnNumber) -> Self {
        Self::uart(0, own)
    }

    /// A datagram link of `octet_rate` octets per second whose frames are dead after `lifetime`.
    #[must_use]
    pub const fn datagram(octet_rate: u32, lifetime: Duration, own: OwnNumber) -> Self {
        Self { octet_rate, lifetime, ..Self::uart(0, own) }
    }
}
