//! What is known of the other board.

use super::event::{Peer, Terms};
use crate::{
    frame::{Open, ResetCause, WIRE_VERSION},
    time::Duration,
};

/// Who the other board is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum Who {
    Nobody,
    /// The peer of the session.
    Peer,
    /// One that does not speak the same (W-30); it was told.
    Stranger,
}

/// What the other board has said of itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) struct Far {
    identity: [u8; 8],
    fingerprint: u32,
    max_payload: u16,
    who: Who,
    version: u8,
    cause: ResetCause,
    numberless: bool,
    window: u8,
    /// The longest silence that it promises, in units of 100 ms; 0: none.
    silence: u8,
}

impl Far {
    pub(super) const NOBODY: Self = Self {
        identity: [0; 8],
        fingerprint: 0,
        max_payload: 0,
        who: Who::Nobody,
        version: 0,
        cause: ResetCause::Unknown,
        numberless: false,
        window: 1,
        silence: 0,
    };

    /// The peer of a session whose window and largest payload are these.
    pub(super) const fn peer(open: &Open, window: u8, max_payload: u16) -> Self {
        Self {
            identity: open.identity.to_le_bytes(),
            fingerprint: open.fingerprint,
            max_payload,
            who: Who::Peer,
            version: open.version,
            cause: open.cause,
            numberless: open.numberless,
            window,
            silence: open.silence,
        }
    }

    /// The peer of a session that outlived a sleep, who has not said anew who it is.
    pub(super) const fn known(window: u8, max_payload: u16) -> Self {
        Self { who: Who::Peer, version: WIRE_VERSION, window, max_payload, ..Self::NOBODY }
    }

    /// One that does not speak the same: of another wire version, no more is known.
    pub(super) const fn stranger(open: &Open) -> Self {
        let mut far = Self::NOBODY;
        far.who = Who::Stranger;
        far.version = open.version;
        if open.version == WIRE_VERSION {
            far.identity = open.identity.to_le_bytes();
            far.fingerprint = open.fingerprint;
        }
        far
    }

    pub(super) const fn is_stranger(&self) -> bool {
        matches!(self.who, Who::Stranger)
    }

    /// The peer of the session with this number.
    pub(super) const fn as_peer(&self, session: u32) -> Option<Peer> {
        if !matches!(self.who, Who::Peer) {
            return None;
        }
        Some(Peer {
            identity: u64::from_le_bytes(self.identity),
            fingerprint: self.fingerprint,
            cause: self.cause,
            numberless: self.numberless,
            window: self.window,
            max_payload: self.max_payload,
            silence: self.silence(),
            session,
        })
    }

    pub(super) const fn terms(&self) -> Terms {
        Terms {
            version: self.version,
            fingerprint: self.fingerprint,
            identity: u64::from_le_bytes(self.identity),
        }
    }

    /// Window of the session; 1 without one.
    pub(super) const fn window(&self) -> u8 {
        self.window
    }

    /// Largest payload of the session; `None` without one.
    pub(super) const fn max_payload(&self) -> Option<u16> {
        if matches!(self.who, Who::Peer) { Some(self.max_payload) } else { None }
    }

    /// The longest silence that it promises; zero: none.
    pub(super) const fn silence(&self) -> Duration {
        #[allow(clippy::arithmetic_side_effects)]
        Duration::from_ticks(self.silence as u32 * 100_000)
    }
}
