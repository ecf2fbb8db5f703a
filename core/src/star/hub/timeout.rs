//! What is due for one leaf when time has passed, and when the next thing will be.

use super::{
    Hub, address,
    common::Common,
    flags::Flag,
    lane::{Lane, Owed},
};
use crate::{
    fcs::Fcs,
    frame::Class,
    framing::Framing,
    link::{EndReason, Outcome, Ticket, news::Hearing},
    retry::Next,
    time::Instant,
};

impl<F: Framing, C: Fcs, const LEAVES: usize, const POOL: usize, const FRAME: usize>
    Hub<F, C, LEAVES, POOL, FRAME>
{
    /// Does what is due at `now`. Early or needless calls are harmless; late ones make the hub slow, not wrong.
    #[inline(never)]
    pub fn handle_timeout(&mut self, now: Instant) {
        self.common.advance(now);
        self.run_down();
    }

    /// Deals with the leaves that are due, until one has something to tell: [`poll_event`](Self::poll_event) goes on then.
    pub(super) fn run_down(&mut self) {
        while !self.common.has_news() {
            let Some(who) = self.wheel.pop(self.common.clock.tick()) else { return };
            let place = usize::from(who);
            if let Some(lane) = self.lanes.get_mut(place).filter(|lane| lane.has(Flag::Present)) {
                lane.catch_up(&self.common.clock, &self.common.epochs);
                self.common.news.leaf = address(place);
                self.common.time_out_lane(lane, address(place));
                self.settle(place);
            }
        }
    }

    /// A lane was dealt with: it lines up if it has something to send, and waits for what comes next.
    pub(super) fn settle(&mut self, place: usize) {
        let Some(lane) = self.lanes.get_mut(place) else { return };
        let leaf = address(place);
        let who = leaf.wrapping_sub(1);
        if self.common.job(lane, leaf).is_some() {
            self.ring.push(who);
        } else if lane.has(Flag::OthersTurn)
            && self.common.pool.waiting(lane.first, &[Class::SetPoint]).is_none()
        {
            lane.set(Flag::OthersTurn, false);
        }
        if let Some(left) = self.common.wait(lane) {
            self.wheel.set(who, self.common.clock.tick_in(left));
        }
    }
}

impl<F: Framing, C: Fcs, const POOL: usize, const FRAME: usize> Common<F, C, POOL, FRAME> {
    #[inline(never)]
    fn time_out_lane(&mut self, lane: &mut Lane, leaf: u8) {
        if lane.session.is_up() {
            self.time_out_session(lane, leaf);
        } else if self.asks(lane) && lane.retry.left().as_ticks() == 0 {
            let policy = self.opening_policy();
            let _ = lane.retry.expire(&policy, &mut self.dice);
            lane.owed = Owed::Ask;
        }
    }

    /// Whether the leaf is asked to open when the time comes (W-24).
    fn asks(&self, lane: &Lane) -> bool {
        !lane.has(Flag::Waits) && lane.owed == Owed::Nothing
    }

    fn time_out_session(&mut self, lane: &mut Lane, leaf: u8) {
        if lane.promised > 0 && self.clock.has_come(lane.silence) {
            return self.end_session(lane, leaf, EndReason::Silence);
        }
        if self.quiet_wait(lane) == Some(0) {
            lane.set(Flag::Quiet, true);
            self.news.hearing(Hearing::Quiet);
        }
        if lane.has(Flag::Sleeps) {
            self.fall_asleep(lane);
        } else if self.stated.keep_alive > 0 && self.clock.has_come(lane.keep_alive) {
            self.keep_alive(lane);
            lane.set(Flag::Ack, true);
        }
        if lane.has(Flag::Flying) && !lane.has(Flag::Due) && lane.retry.left().as_ticks() == 0 {
            self.time_out_item(lane);
        }
    }

    /// The message under way is sent again, or given up: then its number travels on as a void (W-37).
    fn time_out_item(&mut self, lane: &mut Lane) {
        lane.set(Flag::Due, true);
        let policy = self.item_policy();
        let next = lane.retry.expire(&policy, &mut self.dice);
        let was_void = lane.has(Flag::Void);
        if !was_void && next == Next::Again {
            let ticket = self.pool.item(lane.first).map_or(0, |item| item.ticket);
            return self.news.resent(Ticket(ticket), lane.retry.sendings().saturating_add(1));
        }
        lane.retry.slow_down(&policy);
        if !was_void {
            lane.set(Flag::Void, true);
            let place = lane.first;
            self.pool.finish(&mut lane.first, place, Outcome::Unknown);
        }
    }

    /// µs until the leaf is called quiet: half of what it promises after it was last heard.
    fn quiet_wait(&self, lane: &Lane) -> Option<u32> {
        if lane.promised == 0 || lane.has(Flag::Quiet) {
            return None;
        }
        let left = self.clock.until(self.clock.tick_of(lane.silence));
        let half = lane.promise().as_ticks() / 2;
        Some(left.saturating_sub(self.longest_silence(lane).saturating_sub(half)))
    }

    /// µs until the lane must be looked at; `None`: not before something happens.
    fn wait(&self, lane: &Lane) -> Option<u32> {
        if !lane.session.is_up() {
            return (lane.has(Flag::Present) && self.asks(lane)).then(|| lane.retry.left().as_ticks());
        }
        let coarse = |on: bool, coarse: u16| on.then(|| self.clock.until(self.clock.tick_of(coarse)));
        let mut waits = [
            coarse(lane.promised > 0, lane.silence),
            self.quiet_wait(lane),
            coarse(self.keeps_time(lane), lane.keep_alive),
            (lane.has(Flag::Flying) && !lane.has(Flag::Due)).then(|| lane.retry.left().as_ticks()),
            None,
        ];
        if !F::ORDERED && (lane.paced.is_young() || self.waits_for_pace(lane)) {
            waits[4] = Some(self.epochs.left());
        }
        waits.into_iter().flatten().min()
    }

    /// Whether the lane waits for the end of its keep-alive, or for its leaf to fall asleep.
    fn keeps_time(&self, lane: &Lane) -> bool {
        if lane.has(Flag::Sleeps) { lane.has(Flag::Awake) } else { self.stated.keep_alive > 0 }
    }

    /// Whether a message could go if more were allowed in this epoch (W-42, W-45).
    fn waits_for_pace(&self, lane: &Lane) -> bool {
        let waits = |classes: &[Class]| self.pool.waiting(lane.first, classes).is_some();
        (!lane.paced.set_points_are_open(&self.epochs) && waits(&[Class::SetPoint]))
            || (!lane.paced.numbers_are_open(&self.epochs)
                && lane.out.is_open(1)
                && waits(&[Class::Errand, Class::Report]))
    }
}
