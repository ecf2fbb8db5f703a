//! Why a dead-man does not run, and what it misses before it may.

use crate::link::EndReason;

/// Why a dead-man is held or has tripped.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Reason {
    /// The board has just started.
    Boot,
    /// The session with the peer ended.
    LinkEnded(EndReason),
    /// The peer speaks another version or has another agreement: its numbers may mean other things.
    Mismatch,
    /// No new set-point arrived within the limit.
    NoNews,
    /// An operator, or the board itself (rain, a limit switch), asked for the stop.
    Operator,
}

impl Reason {
    /// In plain words, for instance `no news within the limit`.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Boot => "the board has just started",
            Self::LinkEnded(_) => "the link ended",
            Self::Mismatch => "the agreements differ",
            Self::NoNews => "no news within the limit",
            Self::Operator => "an operator asked for the stop",
        }
    }
}

/// What is missing before a dead-man may run again.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum RearmError {
    /// The agreements differ; a matching peer must open the link first.
    Mismatch,
    /// No fresh set-point is there: the sender must stream.
    NoNews,
    /// The newest set-point is not the stop value: the sender must let go first.
    NotAtStop,
}

impl RearmError {
    /// What to do next, in plain words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Mismatch => "the agreements differ: bring both boards to the same one",
            Self::NoNews => "no fresh set-point: start sending the stop value",
            Self::NotAtStop => "the newest set-point is not the stop value: send the stop value first",
        }
    }
}

impl core::fmt::Display for Reason {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(self.words())
    }
}

impl core::fmt::Display for RearmError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(self.words())
    }
}

impl core::error::Error for RearmError {}
