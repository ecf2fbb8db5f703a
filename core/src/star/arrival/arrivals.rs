//! The hub's side: which ARRIVALs are new.

use super::{Arrival, ArrivalAnswer, Welcomed};
use crate::{rules::holds, star::Seconds, time::Duration};

/// A start of a leaf, by its number, and when it was heard first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
struct Start {
    mine: u32,
    first: Seconds,
}

/// What an ARRIVAL is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Fresh {
    /// The leaf was started anew, and this is its report: hand it to the program, then answer.
    New,
    /// A repeat, or a copy: answer again, and hand it to nobody.
    Repeat,
}

/// Why an ARRIVAL is not taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum NotArrived {
    /// The agreements differ: answer so, and tell the program both.
    Mismatch {
        /// The hub's fingerprint.
        ours: u32,
        /// The leaf's.
        theirs: u32,
    },
    /// A third start while two others are remembered. No answer; the leaf repeats it.
    NoRoom,
    /// The hub has no such address. No answer.
    NoSuchLeaf,
}

impl core::fmt::Display for NotArrived {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Mismatch { ours, theirs } => {
                write!(f, "not taken: the agreements differ, {ours:08X} here and {theirs:08X} on the leaf")
            }
            Self::NoRoom => f.write_str("not taken: a third start while copies of two others may come"),
            Self::NoSuchLeaf => f.write_str("not taken: the hub has no such address"),
        }
    }
}

impl core::error::Error for NotArrived {}

/// The hub's memory of leaves without storage, at addresses 1..=`LEAVES`; 24 octets for each.
///
/// For copies that live no longer than L each report is [`Fresh::New`] at most once: all copies of an ARRIVAL come within its span and L of the first one that is heard, and for so long its
/// number is remembered. Two numbers are: a leaf that starts a third time meanwhile has to wait.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Arrivals<const LEAVES: usize> {
    /// Starts of each leaf whose frames may still come.
    past: [[Option<Start>; 2]; LEAVES],
    fingerprint: u32,
    /// Span and L in whole seconds and one more, because a second that has begun counts as a whole one.
    memory: Seconds,
}

impl<const LEAVES: usize> Arrivals<LEAVES> {
    /// Nobody was heard. `fingerprint`: of the hub's agreement; 0: none. `span`: from the first to the last sending of one ARRIVAL, as its leaves state it. `lifetime`: that of a frame
    /// (L); zero on ordered links.
    #[must_use]
    pub const fn new(fingerprint: u32, span: Duration, lifetime: Duration) -> Self {
        const { assert!(LEAVES >= 1 && LEAVES <= 250, "a hub has 1 to 250 leaves") };
        let seconds = span.as_ticks().saturating_add(lifetime.as_ticks()).div_ceil(1_000_000);
        Self { past: [[None; 2]; LEAVES], fingerprint, memory: seconds.saturating_add(1) }
    }

    /// An ARRIVAL from this leaf: new if its number is not one that is remembered. It ends no session: an old copy must not.
    ///
    /// # Errors
    /// Why it is not taken. Only [`NotArrived::Mismatch`] is answered.
    pub fn handle(&mut self, leaf: u8, arrival: &Arrival<'_>, now: Seconds) -> Result<Fresh, NotArrived> {
        let (ours, theirs) = (self.fingerprint, arrival.fingerprint);
        let memory = self.memory;
        let lives = |start: &Start| now.saturating_sub(start.first) < memory && holds(69);
        let place = usize::from(leaf).checked_sub(1).and_then(|place| self.past.get_mut(place));
        let past = place.ok_or(NotArrived::NoSuchLeaf)?;
        if ours != theirs && ours != 0 && theirs != 0 {
            return Err(NotArrived::Mismatch { ours, theirs });
        }
        let mine = if arrival.numberless { 0 } else { arrival.mine };
        if past.iter().flatten().any(|start| start.mine == mine && lives(start)) {
            return Ok(Fresh::Repeat);
        }
        let free = past.iter_mut().find(|start| !start.as_ref().is_some_and(lives));
        *free.ok_or(NotArrived::NoRoom)? = Some(Start { mine, first: now });
        Ok(Fresh::New)
    }

    /// What to answer to what [`handle`](Self::handle) gave, once the program has the report; `more`: whether more waits for the leaf. `None`: nothing.
    #[must_use]
    pub const fn answer(
        arrival: &Arrival<'_>,
        handled: &Result<Fresh, NotArrived>,
        more: bool,
    ) -> Option<ArrivalAnswer> {
        let welcomed = match handled {
            Ok(_) => Welcomed::Taken { more },
            Err(NotArrived::Mismatch { .. }) => Welcomed::Mismatch,
            Err(_) => return None,
        };
        Some(ArrivalAnswer { mine: arrival.mine, welcomed })
    }

    /// The leaf has left the roster: its address may be another board's from now on.
    pub fn forget(&mut self, leaf: u8) {
        if let Some(past) = usize::from(leaf).checked_sub(1).and_then(|place| self.past.get_mut(place)) {
            *past = [None; 2];
        }
    }
}
