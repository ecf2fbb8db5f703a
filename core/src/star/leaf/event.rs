//! What a leaf tells its program.

use crate::{
    link::{Event, Message},
    star::Answer,
};

/// What a leaf tells its program.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum LeafEvent<'a> {
    /// What its link with the hub tells.
    Link(Event<'a>),
    /// A set-point or notice to all (W-70).
    ToAll(Message<'a>),
    /// The hub has taken it on its roster, at this address.
    Joined(u8),
    /// The hub has not: why. Told once for each different answer; the leaf goes on asking at the slowest pace. [`Answer::Impossible`] comes without a word of the hub, and the leaf
    /// stays silent, if it was made without an identity or with an address that no leaf can have.
    NotJoined(Answer),
}

impl<'a> LeafEvent<'a> {
    /// The event as a link would tell it: for a program, or a [`DeadMan`](crate::setpoint::DeadMan), that makes no difference between a message to all and one to this
    /// leaf alone. `None` for what only a leaf tells.
    #[must_use]
    pub const fn of_link(self) -> Option<Event<'a>> {
        match self {
            Self::Link(event) => Some(event),
            Self::ToAll(message) => Some(Event::Message(message)),
            Self::Joined(_) | Self::NotJoined(_) => None,
        }
    }
}
