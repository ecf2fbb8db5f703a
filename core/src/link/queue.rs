//! The items on their way out, oldest first, and their payloads.

use core::hash::{Hash, Hasher};

use super::{
    event::Ticket,
    item::{Item, Tell},
    slot::Slot,
};
use crate::frame::Class;

/// An item and its payload.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(super) struct Entry<const FRAME: usize> {
    pub(super) item: Item,
    pub(super) payload: Slot<FRAME>,
}

/// Up to `QUEUE` entries. They stay where they are: only their order moves.
#[derive(Debug, Clone)]
#[repr(C)]
pub(super) struct Queue<const FRAME: usize, const QUEUE: usize> {
    /// Where the entries are, oldest first; behind the first `len`, the free places.
    order: [u8; QUEUE],
    len: u8,
    entries: [Entry<FRAME>; QUEUE],
}

impl<const FRAME: usize, const QUEUE: usize> Queue<FRAME, QUEUE> {
    const FREE: Entry<FRAME> = Entry { item: Item::new(Ticket(0), Class::Notice), payload: Slot::EMPTY };

    #[allow(clippy::cast_possible_truncation, clippy::indexing_slicing, clippy::arithmetic_side_effects)]
    const ORDER: [u8; QUEUE] = {
        let mut order = [0; QUEUE];
        let mut at = 0;
        while at < QUEUE {
            order[at] = at as u8;
            at += 1;
        }
        order
    };

    #[inline(always)]
    pub(super) fn new() -> Self {
        Self { order: Self::ORDER, len: 0, entries: [Self::FREE; QUEUE] }
    }

    pub(super) fn len(&self) -> usize {
        usize::from(self.len)
    }

    pub(super) const fn is_empty(&self) -> bool {
        self.len == 0
    }

    pub(super) fn is_full(&self) -> bool {
        self.len() >= QUEUE
    }

    pub(super) fn get(&self, at: usize) -> Option<&Entry<FRAME>> {
        let place = *self.order.get(..self.len())?.get(at)?;
        self.entries.get(usize::from(place))
    }

    pub(super) fn get_mut(&mut self, at: usize) -> Option<&mut Entry<FRAME>> {
        let place = *self.order.get(..self.len())?.get(at)?;
        self.entries.get_mut(usize::from(place))
    }

    pub(super) fn iter(&self) -> impl Iterator<Item = &Entry<FRAME>> {
        (0..self.len()).map_while(|at| self.get(at))
    }

    /// The first entry whose item is like this.
    pub(super) fn position(&self, wanted: impl FnMut(&Item) -> bool) -> Option<usize> {
        self.iter().map(|entry| &entry.item).position(wanted)
    }

    /// The first entry whose item waits and is of one of these classes.
    #[inline(never)]
    pub(super) fn waiting(&self, classes: u8) -> Option<usize> {
        self.position(|item| item.is_waiting() && classes >> (item.class as u8) & 1 == 1)
    }

    /// Adds an entry as the newest; `false` if there is no room for it.
    pub(super) fn push(&mut self, item: Item, payload: &[u8]) -> bool {
        let at = self.len();
        let Some(entry) = self.order.get(at).and_then(|&place| self.entries.get_mut(usize::from(place)))
        else {
            return false;
        };
        entry.item = item;
        let fits = entry.payload.keep(payload);
        self.len = self.len.saturating_add(u8::from(fits));
        fits
    }

    /// Frees an entry.
    #[inline(never)]
    pub(super) fn remove(&mut self, at: usize) {
        let used = self.order.get_mut(..usize::from(self.len)).and_then(|used| used.get_mut(at..));
        let Some((mut place, later)) = used.and_then(<[u8]>::split_first_mut) else { return };
        for next in later {
            core::mem::swap(place, next);
            place = next;
        }
        self.len = self.len.saturating_sub(1);
    }

    /// Frees the entries whose items are like this; gives how many.
    pub(super) fn remove_all(&mut self, unwanted: impl Fn(&Item) -> bool) -> usize {
        let before = self.len();
        for at in (0..before).rev() {
            if self.get(at).is_some_and(|entry| unwanted(&entry.item)) {
                self.remove(at);
            }
        }
        before.saturating_sub(self.len())
    }

    /// The first entry whose item has something to tell.
    #[inline(never)]
    pub(super) fn telling(&self) -> Option<usize> {
        self.position(|item| item.tell != Tell::Nothing)
    }
}

impl<const FRAME: usize, const QUEUE: usize> PartialEq for Queue<FRAME, QUEUE> {
    fn eq(&self, other: &Self) -> bool {
        self.iter().eq(other.iter())
    }
}

impl<const FRAME: usize, const QUEUE: usize> Eq for Queue<FRAME, QUEUE> {}

impl<const FRAME: usize, const QUEUE: usize> Hash for Queue<FRAME, QUEUE> {
    fn hash<H: Hasher>(&self, hasher: &mut H) {
        self.len.hash(hasher);
        self.iter().for_each(|entry| entry.hash(hasher));
    }
}
