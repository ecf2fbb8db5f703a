//! Commands of the application.

use super::{
    Hub, Speaks,
    flags::Flag,
    lane::{Lane, Owed},
    place,
};
use crate::{
    fcs::Fcs,
    frame::{Class, MessageNumber},
    framing::Framing,
    link::{EndReason, SendError, Ticket},
    stats::Counter,
    time::Instant,
};

impl<F: Framing, C: Fcs, const LEAVES: usize, const POOL: usize, const FRAME: usize>
    Hub<F, C, LEAVES, POOL, FRAME>
{
    /// There is a leaf at this address from now on; `speaks`: who asks for a session, and whether it sleeps. For one that is there nothing else changes; what it was
    /// promised holds until its session ends. Gives whether there is such an address: 1..=`LEAVES`.
    pub fn admit(&mut self, now: Instant, leaf: u8, speaks: Speaks) -> bool {
        self.common.advance(now);
        let Some(place) = place(leaf) else { return false };
        let Some(lane) = self.lanes.get_mut(place) else { return false };
        lane.catch_up(&self.common.clock, &self.common.epochs);
        let is_new = !lane.has(Flag::Present);
        let asked = !is_new && !lane.has(Flag::Waits);
        lane.set(Flag::Present, true);
        lane.set(Flag::Waits, speaks != Speaks::Hub);
        let slept = lane.has(Flag::Sleeps);
        lane.set(Flag::Sleeps, speaks == Speaks::Sleeper);
        if slept != lane.has(Flag::Sleeps) {
            lane.set(Flag::Awake, false);
            self.common.keep_alive(lane);
        }
        if is_new {
            lane.retry = self.common.fresh_opening();
        }
        if speaks == Speaks::Hub && !asked && !lane.session.is_up() {
            lane.owed = Owed::Ask;
        }
        self.settle(place);
        true
    }

    /// There is no leaf at this address any more: its session ends, with outcomes for all that was under way. The board, if there is one, notices by
    /// silence. Gives whether there was one. Drain [`poll_event`](Self::poll_event) before.
    pub fn dismiss(&mut self, now: Instant, leaf: u8) -> bool {
        self.common.advance(now);
        let Some(place) = place(leaf) else { return false };
        let Some(lane) = self.lanes.get_mut(place).filter(|lane| lane.has(Flag::Present)) else {
            return false;
        };
        if lane.session.is_up() {
            self.common.news.leaf = leaf;
            self.common.end_session(lane, leaf, EndReason::Closed);
        }
        self.common.challenges.take(leaf);
        *lane = Lane::of(lane.session);
        self.wheel.take_out(leaf.wrapping_sub(1));
        true
    }

    /// Accepts a message for a leaf. `payload` begins with the message number (W-18).
    ///
    /// An errand or report ends in an outcome with this ticket; set-points and notices have none. A set-point replaces a waiting one for that leaf with the same
    /// message number (W-43). Where as many messages wait for the leaf as may, or the pool is full, a set-point or notice takes the place of the oldest notice
    /// that waits for the leaf, which is dropped and counted as not sent; an errand or report is refused. Nothing is accepted without a session.
    ///
    /// # Errors
    /// Why it was not accepted: then it is certain that it was not sent.
    #[inline(never)]
    pub fn send(
        &mut self,
        now: Instant,
        leaf: u8,
        class: Class,
        payload: &[u8],
    ) -> Result<Ticket, SendError> {
        self.common.advance(now);
        MessageNumber::of(payload).ok_or(SendError::BadMessageNumber)?;
        let place = place(leaf).ok_or(SendError::NotOpen)?;
        let lane = self.lanes.get_mut(place).filter(|lane| lane.session.is_up()).ok_or(SendError::NotOpen)?;
        let limit = lane.max_payload;
        if payload.len() > usize::from(limit) {
            return Err(SendError::TooLong { limit });
        }
        lane.catch_up(&self.common.clock, &self.common.epochs);
        let common = &mut self.common;
        if class == Class::SetPoint
            && let Some(older) = common.pool.same_set_point(lane.first, payload)
        {
            return common.pool.replace(older, payload).map(Ticket).ok_or(SendError::QueueFull);
        }
        let is_full = common.pool.chain(lane.first).count() >= usize::from(common.queue);
        if (is_full || common.pool.is_full())
            && !class.is_confirmed()
            && let Some(notice) = common.pool.waiting(lane.first, &[Class::Notice])
        {
            common.pool.remove(&mut lane.first, notice);
            common.statistics.add(Counter::NotSent, 1);
        } else if is_full {
            return Err(SendError::QueueFull);
        }
        let ticket = common.pool.push(&mut lane.first, leaf, class, payload).ok_or(SendError::QueueFull)?;
        self.settle(place);
        Ok(Ticket(ticket))
    }

    /// Takes back a message that has not been sent: it is *not sent*, and has no other outcome. Gives whether it waited still.
    pub fn take_back(&mut self, leaf: u8, ticket: Ticket) -> bool {
        let pool = &mut self.common.pool;
        let Some(lane) = place(leaf).and_then(|place| self.lanes.get_mut(place)) else { return false };
        let Some(waits) = pool.named(lane.first, ticket.get()) else { return false };
        pool.remove(&mut lane.first, waits);
        self.common.statistics.add(Counter::NotSent, 1);
        true
    }

    /// Whether a message waits still and has not been sent.
    #[must_use]
    pub fn is_waiting(&self, leaf: u8, ticket: Ticket) -> bool {
        self.lane(leaf).is_some_and(|lane| self.common.pool.named(lane.first, ticket.get()).is_some())
    }

    /// Says whether more waits for this leaf than the hub was handed: its acknowledgements tell so (W-16, bit 7 of *held*), and a leaf that sleeps stays awake (W-61).
    pub fn set_more(&mut self, leaf: u8, more: bool) {
        if let Some(lane) = place(leaf).and_then(|place| self.lanes.get_mut(place)) {
            lane.set(Flag::More, more);
        }
    }

    /// Corrects the estimate of the octets that were polled but have not left yet (W-46): `octets` of them are still in the driver.
    pub fn handle_unsent(&mut self, now: Instant, octets: usize) {
        self.common.advance(now);
        self.common.line.correct(octets);
    }
}
