//! Confirmed items that have a number: the window of the sender.

use core::hash::{Hash, Hasher};

use super::item::Tell;
use crate::{
    frame::Class,
    retry::{Dice, Next, Policy, Retry},
    rules::holds,
    seq::Serial,
    time::Duration,
    window::SendWindow,
};

/// A confirmed item that has a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) struct Flight {
    pub(super) retry: Retry,
    /// To be sent again as soon as the line allows.
    pub(super) due: bool,
    /// The peer has it but still misses an earlier one.
    pub(super) held: bool,
    /// Given up; its number travels on as a void (W-37).
    pub(super) void: bool,
    /// Its place in the order of last sendings, from 0 without gaps.
    pub(super) rank: u8,
}

/// How an acknowledgement names an item.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Arrived {
    /// *Next* has passed it.
    Passed,
    /// By its bit in *held*.
    Held,
}

/// What an acknowledgement means for one item.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Landing {
    /// A sample of the round trip: only what was sent once and has not timed out makes one (Karn's rule).
    pub(super) sample: Option<Duration>,
    /// Its outcome is new.
    pub(super) delivered: bool,
}

impl Flight {
    const NONE: Self =
        Self { retry: Retry::new(Duration::from_ticks(0)), due: false, held: false, void: false, rank: 0 };

    /// A call of its own, as [`Slot::all_empty`](super::slot::Slot::all_empty).
    #[inline(never)]
    fn all_none<const COUNT: usize>() -> [Self; COUNT] {
        [Self::NONE; COUNT]
    }

    /// The peer has it.
    #[inline(always)]
    pub(super) fn arrived(&mut self, class: Class, news: Arrived) -> Landing {
        let is_sample = !self.held && self.retry.sendings() == 1;
        let sample = if is_sample { self.retry.since_sent() } else { None };
        let told = self.is_told(class);
        self.held = true;
        self.due = false;
        let settles = news == Arrived::Passed || self.is_told(class);
        Landing { sample, delivered: settles && !told }
    }

    /// Its outcome is decided: it is given up, or a report that the peer has. An errand waits for those before it.
    pub(super) fn is_told(&self, class: Class) -> bool {
        self.void || (self.held && (class == Class::Report || !holds(40)))
    }

    /// Its time-out has run out: it is sent again, or given up. Gives what its item tells, and whether it is a void from now on.
    pub(super) fn expire(&mut self, policy: &Policy, dice: &mut Dice) -> Option<Tell> {
        if self.held || self.due || self.retry.left().as_ticks() > 0 {
            return None;
        }
        self.due = true;
        let next = self.retry.expire(policy, dice);
        let given_up = next == Next::GiveUp && holds(37);
        if !self.void && !given_up {
            return Some(Tell::Resent(self.retry.sendings().saturating_add(1)));
        }
        self.retry.slow_down(policy);
        if self.void {
            return None;
        }
        self.void = true;
        self.held = !holds(124);
        self.due = holds(124);
        Some(Tell::Outcome(super::Outcome::Unknown))
    }

    /// A later one has overtaken it, so it was lost: it is sent again at once if it has a try left.
    pub(super) fn hurry(&mut self, policy: &Policy) -> Option<Tell> {
        let tries_left = policy.tries.is_none_or(|tries| self.retry.sendings() < tries);
        if self.held || self.due || self.void || !tries_left {
            return None;
        }
        self.due = true;
        Some(Tell::Resent(self.retry.sendings().saturating_add(1)))
    }
}

/// The flights in the order of their numbers, and which numbers they have.
#[derive(Debug, Clone)]
pub(super) struct Flights<const WINDOW: usize> {
    window: SendWindow,
    cells: [Flight; WINDOW],
}

impl<const WINDOW: usize> Flights<WINDOW> {
    #[inline(always)]
    pub(super) fn new() -> Self {
        Self { window: SendWindow::new(), cells: Flight::all_none() }
    }

    /// Whether a new number may be sent with a window of `window` numbers (W-37).
    pub(super) fn is_open(&self, window: u8) -> bool {
        self.window.is_open(window) && usize::from(self.window.outstanding()) < WINDOW
    }

    pub(super) fn iter(&self) -> impl Iterator<Item = &Flight> {
        self.cells.iter().take(usize::from(self.window.outstanding()))
    }

    pub(super) fn iter_mut(&mut self) -> impl Iterator<Item = &mut Flight> {
        self.cells.iter_mut().take(usize::from(self.window.outstanding()))
    }

    pub(super) fn get_mut(&mut self, flight: usize) -> Option<&mut Flight> {
        self.iter_mut().nth(flight)
    }

    /// The number of a flight.
    pub(super) fn number(&self, flight: usize) -> Serial {
        self.window.base().plus(u8::try_from(flight).unwrap_or(u8::MAX))
    }

    /// Numbers under way.
    pub(super) const fn outstanding(&self) -> u8 {
        self.window.outstanding()
    }

    /// Goes on in a session: `base` is the next number.
    pub(super) const fn resume(&mut self, base: Serial) {
        self.window = SendWindow::resumed(base);
    }

    /// Takes the next number into use for nothing.
    pub(super) fn launch_void(&mut self, time_out: Duration) {
        let flight = self.launch(time_out);
        if let Some(flight) = self.get_mut(flight) {
            flight.void = true;
        }
    }

    /// Takes the next number into use; gives its flight.
    pub(super) fn launch(&mut self, time_out: Duration) -> usize {
        let rank = self.window.outstanding();
        let flight = usize::from(rank);
        if let Some(cell) = self.cells.get_mut(flight) {
            *cell = Flight { retry: Retry::new(time_out), due: true, rank, ..Flight::NONE };
            self.window.take();
        }
        flight
    }

    /// Puts a new item in the place of one that was given up: wrong, see `core/tests/explorer/WRONG.md`.
    pub(super) fn take_over(&mut self, time_out: Duration) -> Option<usize> {
        if holds(123) {
            return None;
        }
        let flight = self.iter().position(|flight| flight.void)?;
        let cell = self.get_mut(flight)?;
        *cell = Flight { retry: Retry::new(time_out), due: true, void: false, ..*cell };
        Some(flight)
    }

    /// It is sent now, and will have left after `leaving`. Gives how often it was sent by now.
    pub(super) fn sent(&mut self, flight: usize, leaving: Duration) -> u8 {
        let last = self.window.outstanding().saturating_sub(1);
        let Some(rank) = self.get_mut(flight).map(|flight| flight.rank) else { return 0 };
        self.close_rank(rank);
        let Some(flight) = self.get_mut(flight) else { return 0 };
        flight.due = false;
        flight.rank = last;
        flight.retry.sent(leaving);
        flight.retry.sendings()
    }

    /// Nobody has this rank any more. A single one always has rank 0.
    fn close_rank(&mut self, rank: u8) {
        if WINDOW == 1 {
            return;
        }
        for flight in self.iter_mut() {
            flight.rank = flight.rank.saturating_sub(u8::from(flight.rank > rank));
        }
    }

    /// How many flights an acknowledgement of everything before `next` settles; `None` if it names what was never sent (W-40).
    pub(super) fn settles(&self, next: Serial) -> Option<usize> {
        self.window.settles(next).map(usize::from)
    }

    /// The first flights have arrived: their numbers are free.
    pub(super) fn land(&mut self, count: usize) {
        for _ in 0..count {
            let rank = self.iter().next().map_or(u8::MAX, |flight| flight.rank);
            self.close_rank(rank);
            self.window.pass();
            let mut cells = self.cells.iter_mut();
            if let Some(mut cell) = cells.next() {
                for next in cells {
                    // A bare copy would become a call of `memmove`.
                    core::mem::swap(cell, next);
                    cell = next;
                }
            }
        }
    }

    pub(super) fn clear(&mut self) {
        self.window = SendWindow::new();
    }
}

impl<const WINDOW: usize> PartialEq for Flights<WINDOW> {
    fn eq(&self, other: &Self) -> bool {
        self.window == other.window && self.iter().eq(other.iter())
    }
}

impl<const WINDOW: usize> Eq for Flights<WINDOW> {}

impl<const WINDOW: usize> Hash for Flights<WINDOW> {
    fn hash<H: Hasher>(&self, hasher: &mut H) {
        self.window.hash(hasher);
        self.iter().for_each(|flight| flight.hash(hasher));
    }
}
