//! Items on their way out: one pool for all classes, oldest first.

use heapless::Vec;

use super::{
    apart::Apart,
    event::{EndReason, Outcome, SendError, Ticket},
    item::{Arrived, Flight, Item, Stage, Tell},
};
use crate::{
    frame::{Ack, Class, Kind, MessageNumber},
    retry::{Dice, Policy, Retry},
    rules::holds,
    seq::Serial,
    time::{Duration, Instant},
    window::SendWindow,
};

/// What an acknowledgement has brought.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Acknowledged {
    /// Nothing wrong; the item that was sent last among those newly known to have arrived left then, if it was sent only once.
    Good { sample: Option<Instant> },
    /// It names what was never sent (W-40).
    Bad,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(super) struct Outbox<const FRAME: usize, const QUEUE: usize> {
    items: Vec<Item<FRAME>, QUEUE, u16>,
    window: SendWindow,
    tickets: u16,
}

impl<const FRAME: usize, const QUEUE: usize> Outbox<FRAME, QUEUE> {
    pub(super) const fn new() -> Self {
        Self { items: Vec::new(), window: SendWindow::new(), tickets: 0 }
    }

    /// Accepts an item; gives its ticket and how many others were dropped for it.
    pub(super) fn accept(&mut self, class: Class, payload: &[u8]) -> Result<(Ticket, usize), SendError> {
        let ticket = Ticket(self.tickets);
        let mut dropped = 0;
        if class == Class::SetPoint && self.replace(payload, ticket) {
            self.tickets = self.tickets.wrapping_add(1);
            return Ok((ticket, dropped));
        }
        if self.items.is_full() && !class.is_confirmed() {
            dropped = usize::from(self.drop_oldest_notice());
        }
        let mut item =
            Item { ticket, class, stage: Stage::Waiting, tell: Tell::Nothing, payload: Vec::new() };
        if item.payload.extend_from_slice(payload).is_err() || self.items.push(item).is_err() {
            return Err(SendError::QueueFull);
        }
        self.tickets = self.tickets.wrapping_add(1);
        Ok((ticket, dropped))
    }

    /// Newest wins: puts a set-point in the place of a waiting one of the same kind (W-43).
    fn replace(&mut self, payload: &[u8], ticket: Ticket) -> bool {
        let message = |payload: &[u8]| MessageNumber::split(payload).ok().map(|(number, _)| number);
        let new = message(payload);
        let same = |item: &&mut Item<FRAME>| item.class == Class::SetPoint && message(&item.payload) == new;
        let Some(item) = self.items.iter_mut().find(same).filter(|_| holds(43)) else { return false };
        item.payload.clear();
        item.ticket = ticket;
        item.payload.extend_from_slice(payload).is_ok()
    }

    fn drop_oldest_notice(&mut self) -> bool {
        let oldest = self.items.iter().position(|item| item.class == Class::Notice);
        oldest.is_some_and(|at| {
            self.items.remove(at);
            true
        })
    }

    /// The first waiting item of this class.
    fn first(&self, wanted: impl Fn(Class) -> bool) -> Option<usize> {
        self.items.iter().position(|item| item.is_waiting() && wanted(item.class))
    }

    pub(super) fn set_point(&self) -> Option<usize> {
        self.first(|class| class == Class::SetPoint)
    }

    pub(super) fn notice(&self) -> Option<usize> {
        self.first(|class| class == Class::Notice)
    }

    /// The next confirmed item without a number, if the window is open.
    pub(super) fn fresh(&self, window: u8) -> Option<usize> {
        self.first(Class::is_confirmed).filter(|_| self.window.is_open(window))
    }

    /// The oldest item that is to be sent again.
    pub(super) fn due(&self) -> Option<usize> {
        self.items.iter().position(|item| item.flight().is_some_and(|flight| flight.due))
    }

    /// The time until the next time-out of an item.
    pub(super) fn left(&self) -> Option<Duration> {
        let flights = self.items.iter().filter_map(Item::flight);
        flights.filter(|flight| !flight.held && !flight.due).map(|flight| flight.retry.left()).min()
    }

    pub(super) fn elapse(&mut self, span: Duration) {
        self.items.iter_mut().filter_map(Item::flight_mut).for_each(|flight| flight.retry.elapse(span));
    }

    /// Deals with the items whose time-out has run out.
    pub(super) fn expire(&mut self, policy: &Policy, dice: &mut Dice) {
        self.items.iter_mut().for_each(|item| item.expire(policy, dice));
    }

    /// Takes out an unconfirmed item, to send it.
    pub(super) fn take(&mut self, at: usize) -> Option<Vec<u8, FRAME, u16>> {
        (at < self.items.len()).then(|| self.items.remove(at).payload)
    }

    /// Gives a waiting item its number.
    pub(super) fn launch(&mut self, at: usize, time_out: Duration, now: Instant) {
        let Some(item) = self.items.get_mut(at) else { return };
        item.stage = Stage::Flying(Flight {
            number: self.window.take(),
            retry: Retry::new(time_out),
            due: true,
            held: false,
            void: false,
            told: false,
            rank: u8::MAX,
            left: Apart(now),
        });
    }

    /// Kind, number and payload of an item that has a number.
    pub(super) fn frame(&self, at: usize) -> Option<(Kind, u8, &[u8])> {
        let item = self.items.get(at)?;
        Some((item.class.kind(), item.flight()?.number.get(), &item.payload))
    }

    /// It is sent now, and will have left at `left`, which is after `leaving`. Gives how often it was sent by now.
    pub(super) fn sent(&mut self, at: usize, leaving: Duration, left: Instant) -> u8 {
        let Some(flight) = self.items.get_mut(at).and_then(Item::flight_mut) else { return 0 };
        flight.due = false;
        flight.rank = u8::MAX;
        flight.retry.sent(leaving);
        flight.left = Apart(left);
        let sendings = flight.retry.sendings();
        self.rank();
        sendings
    }

    /// Numbers the flights by their last sending, from 0 without gaps.
    fn rank(&mut self) {
        for rank in 0..=u8::MAX {
            let flights = self.items.iter_mut().filter_map(Item::flight_mut);
            match flights.filter(|flight| flight.rank >= rank).min_by_key(|flight| flight.rank) {
                Some(flight) => flight.rank = rank,
                None => return,
            }
        }
    }

    /// Takes an acknowledgement (W-40).
    pub(super) fn acknowledge(&mut self, ack: Ack) -> Acknowledged {
        let before = self.window;
        let next = Serial::new(ack.next);
        let Some(settled) = self.window.acknowledge(next) else { return Acknowledged::Bad };
        let mut sample = None;
        for item in &mut self.items {
            let Some(number) = item.flight().map(|flight| flight.number) else { continue };
            let passed = before.offset(number).is_some_and(|offset| offset < settled);
            let bit = u32::from(number.since(next)).checked_sub(1);
            let named = ack.held.zip(bit).is_some_and(|(held, bit)| bit < 7 && held >> bit & 1 == 1);
            sample = match (passed, named) {
                (true, _) => item.arrived(Arrived::Passed).or(sample),
                (false, true) => item.arrived(Arrived::Held).or(sample),
                (false, false) => sample,
            };
        }
        self.tidy();
        Acknowledged::Good { sample }
    }

    /// Sends again at once what a later-sent item has overtaken; only right on a line that keeps order.
    pub(super) fn hurry(&mut self, policy: &Policy) {
        let held = self.items.iter().filter_map(Item::flight).filter(|flight| flight.held);
        let Some(latest) = held.map(|flight| flight.rank).max() else { return };
        for item in &mut self.items {
            if item.flight().is_some_and(|flight| flight.rank < latest) {
                item.hurry(policy);
            }
        }
    }

    /// Frees the slots that are spent.
    fn tidy(&mut self) {
        self.items.retain(|item| !item.is_spent());
        self.rank();
    }

    /// Whether an item has something to tell.
    pub(super) fn has_news(&self) -> bool {
        self.items.iter().any(|item| item.tell != Tell::Nothing)
    }

    /// The next thing that an item has to tell, oldest item first.
    pub(super) fn news(&mut self) -> Option<(Ticket, Tell)> {
        let item = self.items.iter_mut().find(|item| item.tell != Tell::Nothing)?;
        let news = (item.ticket, item.tell);
        item.tell = Tell::Nothing;
        self.tidy();
        Some(news)
    }

    /// The session ends (W-41): gives how many unconfirmed-class items are dropped unsent.
    pub(super) fn end(&mut self, reason: EndReason) -> usize {
        if !holds(41) {
            return 0;
        }
        let before = self.items.len();
        self.items.retain(|item| item.class.is_confirmed());
        let dropped = before.saturating_sub(self.items.len());
        for item in &mut self.items {
            match item.stage {
                Stage::Waiting => item.tell = Tell::Outcome(Outcome::NotSent(reason)),
                Stage::Flying(flight) if !flight.told => item.tell = Tell::Outcome(Outcome::Unknown),
                Stage::Flying(_) | Stage::Finished => {}
            }
            item.stage = Stage::Finished;
            if matches!(item.tell, Tell::Resent(_)) {
                item.tell = Tell::Nothing;
            }
        }
        self.window = SendWindow::new();
        self.tidy();
        dropped
    }
}
