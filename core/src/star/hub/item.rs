//! One message on its way to a leaf, without its payload.

use crate::{frame::Class, link::Outcome};

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Stage {
    /// Accepted, not sent.
    Waiting,
    /// It has a number: the first in its leaf's chain.
    Flying,
    /// Its place is free once it has told this.
    Done(Outcome),
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) struct Item {
    /// The address.
    pub(super) leaf: u8,
    pub(super) ticket: u16,
    pub(super) class: Class,
    pub(super) stage: Stage,
}

impl Item {
    pub(super) const FREE: Self = Self::new(0, 0, Class::Notice);

    pub(super) const fn new(leaf: u8, ticket: u16, class: Class) -> Self {
        Self { leaf, ticket, class, stage: Stage::Waiting }
    }
}
