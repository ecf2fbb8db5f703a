//! Items on their way out: one queue for all classes, oldest first.

use super::{
    event::{EndReason, Outcome, SendError, Ticket},
    flight::{Arrived, Flights},
    item::{Item, Stage, Tell},
    queue::Queue,
    slot::Slot,
};
use crate::{
    frame::{Ack, Class, MessageNumber},
    retry::{Dice, Policy},
    rules::holds,
    seq::Serial,
    time::Duration,
};

/// What an acknowledgement has brought.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Acknowledged {
    /// Nothing wrong; and the round trip of the newest of those newly known to have arrived that make a sample.
    Good { sample: Option<Duration> },
    /// It names what was never sent (W-40).
    Bad,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash)]
#[repr(C)]
pub(super) struct Outbox<const FRAME: usize, const WINDOW: usize, const QUEUE: usize> {
    flights: Flights<WINDOW>,
    tickets: u16,
    queue: Queue<FRAME, QUEUE>,
}

impl<const FRAME: usize, const WINDOW: usize, const QUEUE: usize> Outbox<FRAME, WINDOW, QUEUE> {
    #[inline(always)]
    pub(super) fn new() -> Self {
        Self { flights: Flights::new(), tickets: 0, queue: Queue::new() }
    }

    /// The lowest number that is not acknowledged, and how many are under way from there.
    pub(super) fn unconfirmed(&self) -> (Serial, u8) {
        (self.flights.number(0), self.flights.outstanding())
    }

    /// Goes on in a session, in an empty outbox: so many numbers from `base` on were under way, and go out as voids (W-37).
    pub(super) fn resume(&mut self, base: Serial, unconfirmed: u8, time_out: Duration) {
        self.flights.resume(base);
        for _ in 0..unconfirmed {
            let mut void = Item::new(Ticket(self.tickets), Class::Report);
            void.stage = Stage::Flying;
            if self.queue.push(void, &[]) {
                self.flights.launch_void(time_out);
            }
        }
    }

    /// Accepts an item; gives its ticket and how many others were dropped for it.
    pub(super) fn accept(&mut self, class: Class, payload: &[u8]) -> Result<(Ticket, usize), SendError> {
        let ticket = Ticket(self.tickets);
        let mut dropped = 0;
        if !(class == Class::SetPoint && self.replace(payload, ticket)) {
            if self.queue.is_full() && (!class.is_confirmed() || !holds(135)) {
                dropped = usize::from(self.drop_oldest_notice());
            }
            if !self.queue.push(Item::new(ticket, class), payload) {
                return Err(SendError::QueueFull);
            }
        }
        self.take_ticket();
        Ok((ticket, dropped))
    }

    /// Goes on to the next ticket: none that an item still has, however long that has waited.
    fn take_ticket(&mut self) {
        self.tickets = self.tickets.wrapping_add(1);
        while self.queue.position(|item| item.ticket.get() == self.tickets).is_some() {
            self.tickets = self.tickets.wrapping_add(1);
        }
    }

    /// Newest wins: puts a set-point in the place of a waiting one of the same kind (W-43).
    fn replace(&mut self, payload: &[u8], ticket: Ticket) -> bool {
        let new = MessageNumber::of(payload);
        let same = (0..self.queue.len()).find(|&at| {
            self.class(at) == Some(Class::SetPoint) && MessageNumber::of(self.payload(at)) == new
        });
        let Some(at) = same.filter(|_| holds(43)) else { return false };
        if let Some(item) = self.queue.item_mut(at) {
            item.ticket = ticket;
        }
        self.queue.payload_mut(at).is_some_and(|slot| slot.keep(payload))
    }

    fn drop_oldest_notice(&mut self) -> bool {
        let oldest = if holds(135) { self.notice() } else { self.queue.position(|_| true) };
        oldest.is_some_and(|at| {
            self.queue.remove(at);
            true
        })
    }

    /// Whether there is no item at all.
    pub(super) const fn is_empty(&self) -> bool {
        self.queue.is_empty()
    }

    pub(super) fn set_point(&self) -> Option<usize> {
        self.queue.waiting(1 << Class::SetPoint as u8)
    }

    pub(super) fn notice(&self) -> Option<usize> {
        self.queue.waiting(1 << Class::Notice as u8)
    }

    /// The next confirmed item without a number, if the window is open.
    pub(super) fn fresh(&self, window: u8) -> Option<usize> {
        let confirmed = 1 << Class::Errand as u8 | 1 << Class::Report as u8;
        if self.flights.is_open(window) { self.queue.waiting(confirmed) } else { None }
    }

    /// The flight of the oldest item that is to be sent again.
    pub(super) fn due(&self) -> Option<usize> {
        self.flights.iter().position(|flight| flight.due)
    }

    /// The time until the next time-out of an item.
    pub(super) fn left(&self) -> Option<Duration> {
        let waiting = self.flights.iter().filter(|flight| !flight.held && !flight.due);
        waiting.map(|flight| flight.retry.left()).min()
    }

    pub(super) fn elapse(&mut self, span: Duration) {
        self.flights.iter_mut().for_each(|flight| flight.retry.elapse(span));
    }

    /// Where the item of a flight is, and its number.
    pub(super) fn place(&self, flight: usize) -> Option<(usize, Serial)> {
        Some((self.at(flight)?, self.flights.number(flight)))
    }

    fn at(&self, flight: usize) -> Option<usize> {
        let mut flying = flight;
        self.queue.position(|item| {
            let before = item.is_flying() && flying > 0;
            flying = flying.saturating_sub(usize::from(before));
            item.is_flying() && !before
        })
    }

    /// An item has something to tell; one that is given up for good travels on without its payload.
    fn tell(&mut self, flight: usize, tell: Tell) {
        let Some(at) = self.at(flight) else { return };
        if let Some(item) = self.queue.item_mut(at) {
            item.tell = tell;
        }
        if tell == Tell::Outcome(Outcome::Unknown)
            && let Some(payload) = self.queue.payload_mut(at)
        {
            payload.clear();
        }
    }

    /// Deals with the items whose time-out has run out.
    pub(super) fn expire(&mut self, policy: &Policy, dice: &mut Dice) {
        for flight in 0..WINDOW {
            if let Some(tell) = self.flights.get_mut(flight).and_then(|flight| flight.expire(policy, dice)) {
                self.tell(flight, tell);
            }
        }
    }

    /// The payload of an item in the queue.
    pub(super) fn payload(&self, at: usize) -> &[u8] {
        self.queue.payload(at).map_or(&[], Slot::octets)
    }

    /// An unconfirmed item is sent: it is forgotten.
    pub(super) fn forget(&mut self, at: usize) {
        self.queue.remove(at);
    }

    /// Gives a waiting item its number; gives its flight.
    pub(super) fn launch(&mut self, at: usize, time_out: Duration) -> usize {
        let taken_over = self.flights.take_over(time_out);
        if let Some(void) = taken_over.and_then(|flight| self.queue.item_mut(self.at(flight)?)) {
            void.stage = Stage::Finished;
        }
        if let Some(item) = self.queue.item_mut(at) {
            item.stage = Stage::Flying;
        }
        taken_over.unwrap_or_else(|| self.flights.launch(time_out))
    }

    pub(super) fn class(&self, at: usize) -> Option<Class> {
        self.queue.item(at).map(|item| item.class)
    }

    /// It is sent now, and will have left after `leaving`. Gives how often it was sent by now.
    pub(super) fn sent(&mut self, flight: usize, leaving: Duration) -> u8 {
        self.flights.sent(flight, leaving)
    }

    /// Takes an acknowledgement (W-40).
    pub(super) fn acknowledge(&mut self, ack: &Ack) -> Acknowledged {
        let Some(settled) = self.flights.settles(Serial::new(ack.next)) else { return Acknowledged::Bad };
        let held = u32::from(ack.held.unwrap_or(0) & 0x7F);
        let mut sample = None;
        let mut spent = false;
        let mut flight = 0_usize;
        for at in 0..self.queue.len() {
            let Some(item) = self.queue.item_mut(at) else { break };
            if !item.is_flying() {
                continue;
            }
            let Some(flying) = self.flights.get_mut(flight) else { break };
            let passed = flight < settled;
            let bit = flight.wrapping_sub(settled).wrapping_sub(1);
            flight = flight.saturating_add(1);
            let news = if passed { Arrived::Passed } else { Arrived::Held };
            if !passed && (bit >= 7 || held >> bit & 1 == 0) {
                continue;
            }
            let landing = flying.arrived(item.class, news);
            sample = landing.sample.or(sample);
            if passed {
                item.stage = Stage::Finished;
            }
            if landing.delivered {
                item.tell = Tell::Outcome(Outcome::Delivered);
            } else if !matches!(item.tell, Tell::Outcome(_)) {
                item.tell = Tell::Nothing;
            }
            spent |= item.is_spent();
        }
        self.flights.land(settled);
        if spent {
            self.tidy();
        }
        Acknowledged::Good { sample }
    }

    /// Sends again at once what a later-sent item has overtaken; only right on a line that keeps order.
    pub(super) fn hurry(&mut self, policy: &Policy) {
        let held = self.flights.iter().filter(|flight| flight.held);
        let Some(latest) = held.map(|flight| flight.rank).max() else { return };
        for flight in 0..WINDOW {
            let overtaken = self.flights.get_mut(flight).filter(|flight| flight.rank < latest);
            if let Some(tell) = overtaken.and_then(|flight| flight.hurry(policy)) {
                self.tell(flight, tell);
            }
        }
    }

    /// Frees the slots that are spent.
    #[inline(never)]
    fn tidy(&mut self) {
        self.queue.remove_all(Item::is_spent);
    }

    /// Whether an item has something to tell.
    pub(super) fn has_news(&self) -> bool {
        self.queue.telling().is_some()
    }

    /// The next thing that an item has to tell, oldest item first.
    pub(super) fn news(&mut self) -> Option<(Ticket, Tell)> {
        let at = self.queue.telling()?;
        let item = self.queue.item_mut(at)?;
        let news = (item.ticket, item.tell);
        item.tell = Tell::Nothing;
        if item.is_spent() {
            self.queue.remove(at);
        }
        Some(news)
    }

    /// The session ends (W-41): gives how many unconfirmed-class items are dropped unsent.
    pub(super) fn end(&mut self, reason: EndReason) -> usize {
        if !holds(41) {
            return 0;
        }
        let dropped = self.queue.remove_all(|item| !item.class.is_confirmed());
        let mut flight = 0_usize;
        for at in 0..self.queue.len() {
            let Some(item) = self.queue.item_mut(at) else { break };
            if item.is_waiting() {
                item.tell = Tell::Outcome(Outcome::NotSent(reason));
            } else if item.is_flying() {
                let told = self.flights.get_mut(flight).is_none_or(|flight| flight.is_told(item.class));
                flight = flight.saturating_add(1);
                if !told {
                    let outcome = if holds(132) { Outcome::Unknown } else { Outcome::NotSent(reason) };
                    item.tell = Tell::Outcome(outcome);
                }
            }
            if matches!(item.tell, Tell::Resent(_)) {
                item.tell = Tell::Nothing;
            }
            item.stage = Stage::Finished;
        }
        self.flights.clear();
        self.tidy();
        dropped
    }
}
