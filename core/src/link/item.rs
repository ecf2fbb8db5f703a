//! One item on its way out, without its payload.

use super::event::{Outcome, Ticket};
use crate::frame::Class;

/// What an item has still to tell the application. As octets, so that a board need only look at the first to see whether it is anything.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[repr(u8)]
pub(super) enum Tell {
    Nothing,
    /// It is sent again, for the so-manyth time.
    Resent(u8),
    Outcome(Outcome),
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Stage {
    /// Accepted, not sent.
    Waiting,
    /// It has a number, and a [`Flight`](super::flight::Flight): the first such item has the first flight, and so on.
    Flying,
    /// Its slot is free once it has told its outcome.
    Finished,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) struct Item {
    pub(super) ticket: Ticket,
    pub(super) class: Class,
    pub(super) stage: Stage,
    pub(super) tell: Tell,
}

impl Item {
    pub(super) const fn new(ticket: Ticket, class: Class) -> Self {
        Self { ticket, class, stage: Stage::Waiting, tell: Tell::Nothing }
    }

    /// Places for items. A call of its own, as [`Slot::all_empty`](super::slot::Slot::all_empty).
    #[inline(never)]
    pub(super) fn all_free<const COUNT: usize>() -> [Self; COUNT] {
        [Self::new(Ticket(0), Class::SetPoint); COUNT]
    }

    pub(super) const fn is_waiting(&self) -> bool {
        matches!(self.stage, Stage::Waiting)
    }

    pub(super) const fn is_flying(&self) -> bool {
        matches!(self.stage, Stage::Flying)
    }

    /// The slot can be used again.
    pub(super) const fn is_spent(&self) -> bool {
        matches!((&self.stage, &self.tell), (Stage::Finished, Tell::Nothing))
    }
}
