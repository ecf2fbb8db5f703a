//! The items on their way out, oldest first, and their payloads.

use core::hash::{Hash, Hasher};

use super::{
    item::{Item, Tell},
    slot::Slot,
};

/// Up to `QUEUE` items and their payloads. They stay where they are: only their order moves.
#[derive(Debug, Clone)]
#[repr(C)]
pub(super) struct Queue<const FRAME: usize, const QUEUE: usize> {
    /// Where the items are, oldest first; behind the first `len`, the free places.
    order: [u8; QUEUE],
    len: u8,
    items: [Item; QUEUE],
    payloads: [Slot<FRAME>; QUEUE],
}

impl<const FRAME: usize, const QUEUE: usize> Queue<FRAME, QUEUE> {
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

    #[inline(never)]
    pub(super) fn new() -> Self {
        Self { order: Self::ORDER, len: 0, items: Item::all_free(), payloads: Slot::all_empty() }
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

    fn place(&self, at: usize) -> Option<usize> {
        let place = self.order.get(..self.len())?.get(at)?;
        Some(usize::from(*place))
    }

    pub(super) fn item(&self, at: usize) -> Option<&Item> {
        self.items.get(self.place(at)?)
    }

    pub(super) fn item_mut(&mut self, at: usize) -> Option<&mut Item> {
        let place = self.place(at)?;
        self.items.get_mut(place)
    }

    pub(super) fn payload(&self, at: usize) -> Option<&Slot<FRAME>> {
        self.payloads.get(self.place(at)?)
    }

    pub(super) fn payload_mut(&mut self, at: usize) -> Option<&mut Slot<FRAME>> {
        let place = self.place(at)?;
        self.payloads.get_mut(place)
    }

    /// The items and their payloads.
    fn iter(&self) -> impl Iterator<Item = (&Item, &Slot<FRAME>)> {
        (0..self.len()).map_while(|at| self.item(at).zip(self.payload(at)))
    }

    /// The first item that is like this.
    pub(super) fn position(&self, wanted: impl FnMut(&Item) -> bool) -> Option<usize> {
        (0..self.len()).map_while(|at| self.item(at)).position(wanted)
    }

    /// The first item that waits and is of one of these classes.
    #[inline(never)]
    pub(super) fn waiting(&self, classes: u8) -> Option<usize> {
        self.position(|item| item.is_waiting() && classes >> (item.class as u8) & 1 == 1)
    }

    /// Adds an item as the newest; `false` if there is no room for it.
    pub(super) fn push(&mut self, item: Item, payload: &[u8]) -> bool {
        let Some(place) = self.order.get(self.len()).copied().map(usize::from) else { return false };
        let (Some(cell), Some(slot)) = (self.items.get_mut(place), self.payloads.get_mut(place)) else {
            return false;
        };
        *cell = item;
        let fits = slot.keep(payload);
        self.len = self.len.saturating_add(u8::from(fits));
        fits
    }

    /// Frees the place of an item.
    #[inline(never)]
    pub(super) fn remove(&mut self, at: usize) {
        let used = self.order.get_mut(..usize::from(self.len)).and_then(|used| used.get_mut(at..));
        let Some((mut place, later)) = used.and_then(<[u8]>::split_first_mut) else { return };
        for next in later {
            core::mem::swap(place, next);
            place = next;
        }
        // There was one.
        self.len = self.len.wrapping_sub(1);
    }

    /// Frees the places of the items that are like this; gives how many.
    pub(super) fn remove_all(&mut self, unwanted: impl Fn(&Item) -> bool) -> usize {
        let before = self.len();
        for at in (0..before).rev() {
            if self.item(at).is_some_and(&unwanted) {
                self.remove(at);
            }
        }
        before.saturating_sub(self.len())
    }

    /// The first item that has something to tell.
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
