//! A property that does not hold.

use std::fmt;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Property {
    OwnSession,
    Once,
    InOrder,
    Delivered,
    NotSent,
    OneOutcome,
    EnoughTries,
    LiveSession,
    NewestWins,
    FreshTaken,
    DeadMan,
    WakeUp,
    Memory,
    Heals,
}

impl Property {
    pub const fn words(self) -> &'static str {
        match self {
            Self::OwnSession => "a message arrives only in the session that it was sent in",
            Self::Once => "a message arrives at most once",
            Self::InOrder => "errands arrive in order, none passed over",
            Self::Delivered => "`delivered` is true",
            Self::NotSent => "`not sent` is true, and `unknown` was sent",
            Self::OneOutcome => "an item has one outcome",
            Self::EnoughTries => "with fewer losses than tries the outcome is `delivered`",
            Self::LiveSession => "an OPEN ends a session only if the peer has left it",
            Self::NewestWins => "no older set-point after a newer one",
            Self::FreshTaken => "a fresh set-point is not refused",
            Self::DeadMan => "a dead-man never runs on old news",
            Self::WakeUp => "no state without a wake-up unless idle, and none that spins",
            Self::Memory => "no more is under way than the window, nothing is dropped in silence",
            Self::Heals => "once nothing is lost, both are open in one session and each item has its outcome",
        }
    }
}

#[derive(Debug, Clone)]
pub struct Breach {
    pub property: Property,
    pub words: String,
}

impl Breach {
    pub fn new(property: Property, words: impl Into<String>) -> Self {
        Self { property, words: words.into() }
    }
}

impl fmt::Display for Breach {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}. But: {}", self.property.words(), self.words)
    }
}

/// Whether a property holds.
pub type Checked = Result<(), Breach>;

/// The property must hold.
pub fn must(holds: bool, property: Property, words: impl FnOnce() -> String) -> Checked {
    if holds { Ok(()) } else { Err(Breach::new(property, words())) }
}
