//! One item on its way out.

use heapless::Vec;

use super::{
    apart::Apart,
    event::{Outcome, Ticket},
};
use crate::{
    frame::Class,
    retry::{Dice, Next, Policy, Retry},
    rules::holds,
    seq::Serial,
    time::Instant,
};

/// What an item has still to tell the application.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Tell {
    Nothing,
    /// It is sent again, for the so-manyth time.
    Resent(u8),
    Outcome(Outcome),
}

/// A confirmed item that has a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) struct Flight {
    pub(super) number: Serial,
    pub(super) retry: Retry,
    /// To be sent again as soon as the line allows.
    pub(super) due: bool,
    /// The peer has it but still misses an earlier one.
    pub(super) held: bool,
    /// Given up; its number travels on as a void (W-37).
    pub(super) void: bool,
    /// Its outcome is decided.
    pub(super) told: bool,
    /// Its place in the order of last sendings.
    pub(super) rank: u8,
    /// When it left.
    pub(super) left: Apart<Instant>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Stage {
    /// Accepted, not sent.
    Waiting,
    Flying(Flight),
    /// Its slot is free once it has told its outcome.
    Finished,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(super) struct Item<const FRAME: usize> {
    pub(super) ticket: Ticket,
    pub(super) class: Class,
    pub(super) stage: Stage,
    pub(super) tell: Tell,
    pub(super) payload: Vec<u8, FRAME, u16>,
}

impl<const FRAME: usize> Item<FRAME> {
    pub(super) const fn is_waiting(&self) -> bool {
        matches!(self.stage, Stage::Waiting)
    }

    pub(super) const fn flight(&self) -> Option<&Flight> {
        if let Stage::Flying(flight) = &self.stage { Some(flight) } else { None }
    }

    pub(super) const fn flight_mut(&mut self) -> Option<&mut Flight> {
        if let Stage::Flying(flight) = &mut self.stage { Some(flight) } else { None }
    }

    /// The slot can be used again.
    pub(super) const fn is_spent(&self) -> bool {
        matches!((&self.stage, &self.tell), (Stage::Finished, Tell::Nothing))
    }

    /// The peer has it. Gives when it left, if that makes a sample of the round trip: only what was sent once does (Karn's rule).
    pub(super) fn arrived(&mut self, news: Arrived) -> Option<Instant> {
        let class = self.class;
        let flight = self.flight_mut()?;
        let is_sample = !flight.held && flight.retry.sendings() == 1;
        let sample = is_sample.then_some(*flight.left);
        flight.held = true;
        flight.due = false;
        let settles = news == Arrived::Passed || class == Class::Report || !holds(40);
        let delivered = settles && !flight.told;
        flight.told |= settles;
        if news == Arrived::Passed {
            self.stage = Stage::Finished;
        }
        if delivered {
            self.tell = Tell::Outcome(Outcome::Delivered);
        } else if !matches!(self.tell, Tell::Outcome(_)) {
            self.tell = Tell::Nothing;
        }
        sample
    }

    /// Its time-out has run out: it is sent again, or given up.
    pub(super) fn expire(&mut self, policy: &Policy, dice: &mut Dice) {
        let Some(flight) = self.flight_mut() else { return };
        if flight.held || flight.due || flight.retry.left().as_ticks() > 0 {
            return;
        }
        flight.due = true;
        let next = flight.retry.expire(policy, dice);
        if flight.void {
            flight.retry.slow_down(policy);
        } else if next == Next::GiveUp && holds(37) {
            flight.void = true;
            flight.told = true;
            flight.retry.slow_down(policy);
            self.payload.clear();
            self.tell = Tell::Outcome(Outcome::Unknown);
        } else {
            self.tell = Tell::Resent(flight.retry.sendings().saturating_add(1));
        }
    }

    /// A later one has overtaken it, so it was lost: it is sent again at once if it has a try left.
    pub(super) fn hurry(&mut self, policy: &Policy) {
        let Some(flight) = self.flight_mut() else { return };
        let tries_left = policy.tries.is_none_or(|tries| flight.retry.sendings() < tries);
        if flight.held || flight.due || flight.void || !tries_left {
            return;
        }
        flight.due = true;
        self.tell = Tell::Resent(flight.retry.sendings().saturating_add(1));
    }
}

/// How an acknowledgement names an item.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Arrived {
    /// *Next* has passed it.
    Passed,
    /// By its bit in *held*.
    Held,
}
