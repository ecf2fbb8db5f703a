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
pub(super) struct Queue<const FRAME: usize, const QUEUE: usize> {
    entries: [Entry<FRAME>; QUEUE],
    /// Where the entries are, oldest first; behind the first `len`, the free places.
    order: [u8; QUEUE],
    len: u8,
}

impl<const FRAME: usize, const QUEUE: usize> Queue<FRAME, QUEUE> {
    const FREE: Entry<FRAME> = Entry { item: Item::new(Ticket(0), Class::Notice), payload: Slot::EMPTY };

    pub(super) fn new() -> Self {
        let place = |at: usize| u8::try_from(at).unwrap_or(u8::MAX);
        Self { entries: [Self::FREE; QUEUE], order: core::array::from_fn(place), len: 0 }
    }

    pub(super) fn len(&self) -> usize {
        usize::from(self.len)
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

    /// Adds an entry as the newest; `false` if there is no room for it.
    pub(super) fn push(&mut self, item: Item, payload: &[u8]) -> bool {
        let at = self.len();
        let Some(entry) = self.order.get(at).and_then(|&place| self.entries.get_mut(usize::from(place)))
        else {
            return false;
        };
        entry.item = item;
        let fits = entry.payload.keep([payload, &[]]);
        self.len = self.len.saturating_add(u8::from(fits));
        fits
    }

    /// Frees an entry.
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
        while let Some(at) = self.position(&unwanted) {
            self.remove(at);
        }
        before.saturating_sub(self.len())
    }

    /// Whether an item has something to tell.
    pub(super) fn has_news(&self) -> bool {
        self.iter().any(|entry| entry.item.tell != Tell::Nothing)
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
