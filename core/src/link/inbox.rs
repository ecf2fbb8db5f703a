//! Confirmed messages on their way in: the window, and errands that wait for an earlier one (W-38, W-39).
//!
//! At most `WINDOW` - 1 errands wait, because the one that is next never does. The slot that is left over keeps the body of a probe
//! or of its answer until it is sent.

use core::hash::{Hash, Hasher};

use super::{apart::Apart, slot::Slot};
use crate::{
    frame::Ack,
    seq::Serial,
    time::Instant,
    window::{Place, ReceiveWindow},
};

/// What a slot keeps.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum Kept {
    Nothing,
    /// An errand that has overtaken an earlier one: its number.
    Errand(u8),
    /// The body of a probe or of its answer.
    Body,
}

/// A slot and what it keeps.
#[derive(Debug, Clone)]
struct Shelf<const FRAME: usize> {
    kept: Kept,
    /// When the errand arrived.
    arrived: Apart<Instant>,
    /// Means nothing while nothing is kept.
    slot: Slot<FRAME>,
}

impl<const FRAME: usize> Shelf<FRAME> {
    const FREE: Self =
        Self { kept: Kept::Nothing, arrived: Apart(Instant::from_ticks(0)), slot: Slot::EMPTY };

    /// A call of its own, as [`Slot::all_empty`].
    #[inline(never)]
    fn all_free<const COUNT: usize>() -> [Self; COUNT] {
        [Self::FREE; COUNT]
    }

    fn meaning(&self) -> (Kept, &[u8]) {
        (self.kept, if self.kept == Kept::Nothing { &[] } else { self.slot.octets() })
    }
}

impl<const FRAME: usize> PartialEq for Shelf<FRAME> {
    fn eq(&self, other: &Self) -> bool {
        self.meaning() == other.meaning()
    }
}

impl<const FRAME: usize> Eq for Shelf<FRAME> {}

impl<const FRAME: usize> Hash for Shelf<FRAME> {
    fn hash<H: Hasher>(&self, hasher: &mut H) {
        self.meaning().hash(hasher);
    }
}

#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(super) struct Inbox<const FRAME: usize, const WINDOW: usize> {
    window: ReceiveWindow,
    shelves: [Shelf<FRAME>; WINDOW],
}

impl<const FRAME: usize, const WINDOW: usize> Inbox<FRAME, WINDOW> {
    #[inline(always)]
    pub(super) fn new() -> Self {
        Self { window: ReceiveWindow::default(), shelves: Shelf::all_free() }
    }

    /// Begins a session: numbers from 0, no errand held.
    pub(super) fn clear(&mut self) {
        self.window = ReceiveWindow::default();
        for shelf in self.shelves.iter_mut().filter(|shelf| shelf.kept != Kept::Body) {
            shelf.kept = Kept::Nothing;
        }
    }

    /// Goes on in a session: the number that is waited for.
    pub(super) fn resume(&mut self, next: Serial) {
        self.window = ReceiveWindow::resumed(next);
    }

    fn find(&mut self, wanted: impl Fn(Kept) -> bool) -> Option<&mut Shelf<FRAME>> {
        self.shelves.iter_mut().find(|shelf| wanted(shelf.kept))
    }

    /// Puts octets on a free shelf; `false` if there is none or they are too many.
    fn keep(&mut self, what: Kept, arrived: Instant, octets: &[u8], more: &[u8]) -> bool {
        let Some(shelf) = self.find(|kept| kept == Kept::Nothing) else { return false };
        let fits = shelf.slot.keep(octets) && shelf.slot.extend(more);
        if fits {
            shelf.kept = what;
            shelf.arrived = Apart(arrived);
        }
        fits
    }

    pub(super) fn place(&self, number: u8, window: u8) -> Place {
        self.window.place(Serial::new(number), window)
    }

    pub(super) fn ack(&self) -> Ack {
        self.window.ack()
    }

    /// Keeps an errand until the earlier ones are in; `false` if there is no room.
    pub(super) fn hold(&mut self, number: u8, arrived: Instant, payload: &[u8]) -> bool {
        let held = self.keep(Kept::Errand(number), arrived, payload, &[]);
        if held {
            self.window.take(Serial::new(number));
        }
        held
    }

    /// A number is done with: handed out, or a void. Goes on past all that need no handing out.
    pub(super) fn settle(&mut self, number: u8) {
        self.window.take(Serial::new(number));
        self.go_on();
    }

    fn go_on(&mut self) {
        while self.window.is_ready() && (WINDOW == 1 || self.waiting().is_none()) {
            self.window.pass();
        }
    }

    /// Where the errand is that is next to be handed out.
    fn waiting(&self) -> Option<usize> {
        let next = self.window.next().get();
        self.shelves.iter().position(|shelf| matches!(shelf.kept, Kept::Errand(number) if number == next))
    }

    /// Whether a held errand waits to be handed out: with a window of one none ever does.
    pub(super) const fn is_ready(&self) -> bool {
        WINDOW > 1 && self.window.is_ready()
    }

    /// Hands out the held errand that is next: its number, its arrival and its payload, which stays readable until the next call.
    pub(super) fn hand_out(&mut self) -> Option<(u8, Instant, &[u8])> {
        let at = self.waiting().filter(|_| self.window.is_ready())?;
        let shelf = self.shelves.get_mut(at)?;
        let Kept::Errand(number) = shelf.kept else { return None };
        let arrived = shelf.arrived;
        shelf.kept = Kept::Nothing;
        self.window.pass();
        self.go_on();
        Some((number, *arrived, self.shelves.get(at)?.slot.octets()))
    }

    /// Keeps the body of a probe or of its answer, of which there is one at a time; `false` if it is too long.
    pub(super) fn keep_body(&mut self, octets: &[u8], more: &[u8]) -> bool {
        self.drop_body();
        self.keep(Kept::Body, Instant::from_ticks(0), octets, more)
    }

    /// The body that is kept.
    pub(super) fn body(&self) -> &[u8] {
        let body = self.shelves.iter().find(|shelf| shelf.kept == Kept::Body);
        body.map_or(&[], |shelf| shelf.slot.octets())
    }

    /// The body is sent.
    pub(super) fn drop_body(&mut self) {
        if let Some(shelf) = self.find(|kept| kept == Kept::Body) {
            shelf.kept = Kept::Nothing;
        }
    }
}
