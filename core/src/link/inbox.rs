//! Confirmed messages on their way in: the window, and errands that wait for an earlier one (W-38, W-39).

use core::hash::{Hash, Hasher};

use heapless::Vec;

use super::{apart::Apart, receiver::Arrival};
use crate::{
    frame::Ack,
    seq::Serial,
    window::{Place, ReceiveWindow},
};

/// A place for an errand that has overtaken an earlier one.
#[derive(Debug, Clone)]
struct Slot<const FRAME: usize> {
    arrival: Option<Arrival>,
    /// Means nothing without an arrival.
    payload: Apart<Vec<u8, FRAME, u16>>,
}

impl<const FRAME: usize> Slot<FRAME> {
    fn meaning(&self) -> Option<(Arrival, &[u8])> {
        Some((self.arrival?, &self.payload))
    }
}

impl<const FRAME: usize> PartialEq for Slot<FRAME> {
    fn eq(&self, other: &Self) -> bool {
        self.meaning() == other.meaning()
    }
}

impl<const FRAME: usize> Eq for Slot<FRAME> {}

impl<const FRAME: usize> Hash for Slot<FRAME> {
    fn hash<H: Hasher>(&self, hasher: &mut H) {
        self.meaning().hash(hasher);
    }
}

#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(super) struct Inbox<const FRAME: usize, const WINDOW: usize> {
    window: ReceiveWindow,
    slots: [Slot<FRAME>; WINDOW],
}

impl<const FRAME: usize, const WINDOW: usize> Inbox<FRAME, WINDOW> {
    pub(super) fn new() -> Self {
        let slot = |_| Slot { arrival: None, payload: Apart(Vec::new()) };
        Self { window: ReceiveWindow::default(), slots: core::array::from_fn(slot) }
    }

    /// Begins a session: numbers from 0, nothing held.
    pub(super) fn clear(&mut self) {
        self.window = ReceiveWindow::default();
        for slot in &mut self.slots {
            slot.arrival = None;
        }
    }

    pub(super) fn place(&self, number: u8, window: u8) -> Place {
        self.window.place(Serial::new(number), window)
    }

    pub(super) fn ack(&self) -> Ack {
        self.window.ack()
    }

    /// Keeps an errand until the earlier ones are in; `false` if there is no room.
    pub(super) fn hold(&mut self, arrival: Arrival, payload: &[u8]) -> bool {
        let Some(slot) = self.slots.iter_mut().find(|slot| slot.arrival.is_none()) else { return false };
        slot.payload.clear();
        if slot.payload.extend_from_slice(payload).is_err() {
            return false;
        }
        slot.arrival = Some(arrival);
        self.window.take(Serial::new(arrival.number));
        true
    }

    /// A number is done with: handed out, or a void. Goes on past all that need no handing out.
    pub(super) fn settle(&mut self, number: u8) {
        self.window.take(Serial::new(number));
        self.go_on();
    }

    fn go_on(&mut self) {
        while self.window.is_ready() && self.waiting().is_none() {
            self.window.pass();
        }
    }

    /// The place of the errand that is next to be handed out.
    fn waiting(&self) -> Option<usize> {
        let next = self.window.next().get();
        self.slots.iter().position(|slot| slot.arrival.is_some_and(|arrival| arrival.number == next))
    }

    /// Whether a held errand waits to be handed out.
    pub(super) const fn is_ready(&self) -> bool {
        self.window.is_ready()
    }

    /// Hands out the held errand that is next; the payload stays readable until the next call.
    pub(super) fn hand_out(&mut self) -> Option<(Arrival, &[u8])> {
        let at = self.waiting().filter(|_| self.window.is_ready())?;
        let arrival = self.slots.get_mut(at)?.arrival.take()?;
        self.window.pass();
        self.go_on();
        Some((arrival, &self.slots.get(at)?.payload))
    }
}
