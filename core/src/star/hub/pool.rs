//! The frames on their way out, of all leaves: one pool, in which each leaf has a chain of its own.

use super::item::{Item, Stage};
use crate::{
    frame::{Class, MessageNumber},
    link::{Outcome, slot::Slot},
};

/// The end of a chain.
pub(super) const NONE: u8 = u8::MAX;

#[derive(Debug, Clone, PartialEq, Eq, Hash)]
struct Cell<const FRAME: usize> {
    /// The next in its chain.
    next: u8,
    item: Item,
    payload: Slot<FRAME>,
}

impl<const FRAME: usize> Cell<FRAME> {
    const FREE: Self = Self { next: NONE, item: Item::FREE, payload: Slot::EMPTY };
}

/// `POOL` places (at most 254).
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(super) struct Pool<const POOL: usize, const FRAME: usize> {
    free: u8,
    /// Those that are done with and have an outcome to tell, oldest first.
    told_first: u8,
    told_last: u8,
    tickets: u16,
    /// Set-points that wait, of all leaves.
    set_points: u8,
    cells: [Cell<FRAME>; POOL],
}

impl<const POOL: usize, const FRAME: usize> Pool<POOL, FRAME> {
    pub(super) fn new() -> Self {
        let mut pool = Self {
            free: NONE,
            told_first: NONE,
            told_last: NONE,
            tickets: 0,
            set_points: 0,
            cells: [const { Cell::FREE }; POOL],
        };
        for place in (0..POOL).rev() {
            let before = pool.free;
            if let Some(cell) = pool.cells.get_mut(place) {
                cell.next = before;
                pool.free = u8::try_from(place).unwrap_or(NONE);
            }
        }
        pool
    }

    fn cell(&self, place: u8) -> Option<&Cell<FRAME>> {
        self.cells.get(usize::from(place))
    }

    fn cell_mut(&mut self, place: u8) -> Option<&mut Cell<FRAME>> {
        self.cells.get_mut(usize::from(place))
    }

    pub(super) fn item(&self, place: u8) -> Option<&Item> {
        self.cell(place).map(|cell| &cell.item)
    }

    pub(super) fn item_mut(&mut self, place: u8) -> Option<&mut Item> {
        self.cell_mut(place).map(|cell| &mut cell.item)
    }

    pub(super) fn payload(&self, place: u8) -> &[u8] {
        self.cell(place).map_or(&[], |cell| cell.payload.octets())
    }

    /// Whether a set-point waits, whoever it is for.
    pub(super) const fn set_point_waits(&self) -> bool {
        self.set_points > 0
    }

    pub(super) const fn is_full(&self) -> bool {
        self.free == NONE
    }

    pub(super) const fn has_told(&self) -> bool {
        self.told_first != NONE
    }

    /// The places of a chain.
    pub(super) fn chain(&self, first: u8) -> impl Iterator<Item = u8> + '_ {
        let mut place = first;
        (0..POOL).map_while(move |_| {
            let cell = self.cell(place)?;
            Some(core::mem::replace(&mut place, cell.next))
        })
    }

    /// The first item of a chain that waits and is of one of these classes.
    pub(super) fn waiting(&self, first: u8, classes: &[Class]) -> Option<u8> {
        self.chain(first).find(|&place| {
            self.item(place).is_some_and(|item| item.stage == Stage::Waiting && classes.contains(&item.class))
        })
    }

    /// The item that waits and has this ticket.
    pub(super) fn named(&self, first: u8, ticket: u16) -> Option<u8> {
        self.chain(first).find(|&place| {
            self.item(place).is_some_and(|item| item.stage == Stage::Waiting && item.ticket == ticket)
        })
    }

    /// The waiting set-point with the message number of this payload.
    pub(super) fn same_set_point(&self, first: u8, payload: &[u8]) -> Option<u8> {
        let new = MessageNumber::of(payload);
        self.chain(first).find(|&place| {
            self.item(place).is_some_and(|item| item.class == Class::SetPoint)
                && MessageNumber::of(self.payload(place)) == new
        })
    }

    /// Puts a newer payload in the place of a waiting one; gives its ticket.
    pub(super) fn replace(&mut self, place: u8, payload: &[u8]) -> Option<u16> {
        let ticket = self.tickets;
        let cell = self.cell_mut(place)?;
        if !cell.payload.keep(payload) {
            return None;
        }
        cell.item.ticket = ticket;
        self.take_ticket();
        Some(ticket)
    }

    /// Goes on to the next ticket: none that an item still has, however long that has waited. One look is good for a block of 256, and of so many blocks one is free.
    fn take_ticket(&mut self) {
        self.tickets = self.tickets.wrapping_add(1);
        let block = |ticket: u16| ticket >> 8;
        while self.tickets & 0xFF == 0
            && self
                .cells
                .iter()
                .any(|cell| cell.item.leaf > 0 && block(cell.item.ticket) == block(self.tickets))
        {
            self.tickets = self.tickets.wrapping_add(0x100);
        }
    }

    /// A new item at the end of a chain; gives its ticket, `None` if there is no room.
    pub(super) fn push(&mut self, first: &mut u8, leaf: u8, class: Class, payload: &[u8]) -> Option<u16> {
        let (place, ticket) = (self.free, self.tickets);
        let last = self.chain(*first).last();
        let cell = self.cell_mut(place)?;
        if !cell.payload.keep(payload) {
            return None;
        }
        cell.item = Item::new(leaf, ticket, class);
        self.free = core::mem::replace(&mut cell.next, NONE);
        match last.and_then(|last| self.cell_mut(last)) {
            Some(last) => last.next = place,
            None => *first = place,
        }
        self.set_points = self.set_points.saturating_add(u8::from(class == Class::SetPoint));
        self.take_ticket();
        Some(ticket)
    }

    /// Takes an item out of a chain.
    fn unlink(&mut self, first: &mut u8, place: u8) {
        let Some(next) = self.cell(place).map(|cell| cell.next) else { return };
        if *first == place {
            *first = next;
            return;
        }
        let before =
            self.chain(*first).find(|&other| self.cell(other).is_some_and(|cell| cell.next == place));
        if let Some(before) = before.and_then(|before| self.cell_mut(before)) {
            before.next = next;
        }
    }

    fn release(&mut self, place: u8) {
        let free = self.free;
        let Some(cell) = self.cell_mut(place) else { return };
        let was_set_point = cell.item.class == Class::SetPoint;
        cell.item = Item::FREE;
        cell.payload.clear();
        cell.next = free;
        self.free = place;
        self.set_points = self.set_points.saturating_sub(u8::from(was_set_point));
    }

    /// Frees an item that has nothing to tell.
    pub(super) fn remove(&mut self, first: &mut u8, place: u8) {
        self.unlink(first, place);
        self.release(place);
    }

    /// Puts an item first in its chain: the one that is under way is there.
    pub(super) fn bring_to_front(&mut self, first: &mut u8, place: u8) {
        self.unlink(first, place);
        let next = core::mem::replace(first, place);
        if let Some(cell) = self.cell_mut(place) {
            cell.next = next;
        }
    }

    /// An item is done with: it leaves its chain and tells its outcome.
    pub(super) fn finish(&mut self, first: &mut u8, place: u8, outcome: Outcome) {
        self.unlink(first, place);
        let Some(cell) = self.cell_mut(place) else { return };
        cell.next = NONE;
        cell.item.stage = Stage::Done(outcome);
        cell.payload.clear();
        let last = core::mem::replace(&mut self.told_last, place);
        match self.cell_mut(last) {
            Some(last) => last.next = place,
            None => self.told_first = place,
        }
    }

    /// The oldest outcome to tell; its place is free then.
    pub(super) fn tell(&mut self) -> Option<(Item, Outcome)> {
        let place = self.told_first;
        let cell = self.cell(place)?;
        let (item, next) = (cell.item, cell.next);
        let Stage::Done(outcome) = item.stage else { return None };
        self.told_first = next;
        if next == NONE {
            self.told_last = NONE;
        }
        self.release(place);
        Some((item, outcome))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chains_share_the_places_and_give_all_of_them_back() {
        let mut pool = Pool::<3, 48>::new();
        let empty = pool.clone();
        let (mut dome, mut mast) = (NONE, NONE);
        assert_eq!(pool.push(&mut dome, 1, Class::Errand, &[1]), Some(0));
        assert_eq!(pool.push(&mut mast, 2, Class::SetPoint, &[2]), Some(1));
        assert_eq!(pool.push(&mut dome, 1, Class::Notice, &[3]), Some(2));
        assert_eq!(pool.push(&mut mast, 2, Class::Report, &[4]), None);
        assert_eq!(pool.chain(dome).collect::<std::vec::Vec<_>>(), [0, 2]);
        assert!(pool.set_point_waits());
        let notice = pool.waiting(dome, &[Class::Notice]).unwrap();
        pool.bring_to_front(&mut dome, notice);
        assert_eq!(pool.chain(dome).collect::<std::vec::Vec<_>>(), [2, 0]);
        pool.finish(&mut dome, 0, Outcome::Delivered);
        pool.remove(&mut mast, 1);
        assert!(!pool.set_point_waits() && pool.has_told());
        pool.finish(&mut dome, 2, Outcome::Unknown);
        assert_eq!((dome, mast), (NONE, NONE));
        let told = |pool: &mut Pool<3, 48>| pool.tell().map(|(item, outcome)| (item.ticket, outcome));
        assert_eq!(told(&mut pool), Some((0, Outcome::Delivered)));
        assert_eq!(told(&mut pool), Some((2, Outcome::Unknown)));
        assert_eq!(told(&mut pool), None);
        for _ in 0..3 {
            assert!(pool.push(&mut dome, 1, Class::Report, &[5; 40]).is_some());
        }
        assert_eq!(pool.push(&mut dome, 1, Class::Report, &[]), None);
        assert_ne!(pool, empty);
    }

    /// A message for a leaf that sleeps may wait while very many others come and go.
    #[test]
    fn no_two_items_have_one_ticket_however_long_one_waits() {
        let mut pool = Pool::<3, 48>::new();
        let (mut mast, mut dome) = (NONE, NONE);
        let mut pass = |pool: &mut Pool<3, 48>, waits: &[u16], count: u32| {
            let mut seen = std::collections::BTreeSet::new();
            for _ in 0..count {
                let ticket = pool.push(&mut dome, 1, Class::Report, &[2]).unwrap();
                assert!(!waits.contains(&ticket), "{ticket} is one of {waits:?}");
                seen.insert(ticket);
                let place = dome;
                pool.remove(&mut dome, place);
            }
            seen.len()
        };
        assert_eq!(pool.push(&mut mast, 2, Class::Errand, &[1]), Some(0));
        assert_eq!(pass(&mut pool, &[0], 299), 299);
        assert_eq!(pool.push(&mut mast, 2, Class::Errand, &[1]), Some(300));
        // All but the two blocks of 256 in which one waits.
        assert_eq!(pass(&mut pool, &[0, 300], 200_000), 65_536 - 256 - 45);
    }
}
