//! When a link must be served next, and why.

use super::Link;
use crate::{
    fcs::Fcs,
    framing::{Framing, order::Room as _},
    rules::holds,
    time::{Duration, Instant, LONGEST, after},
};

/// When to call [`handle_timeout`](super::Link::handle_timeout) next, if nothing else happens before.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum When {
    /// At once: something is due, or the law of the loop was not kept.
    Now,
    /// At this time. Later is harmless but slow; earlier is harmless.
    At(Instant),
    /// Not before something is received or commanded.
    Idle,
}

/// What the next wake-up is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum WakeReason {
    /// Nothing is due.
    Nothing,
    /// An event waits to be polled.
    Event,
    /// A frame waits to be polled.
    Transmit,
    /// A numberless board keeps quiet after its start (W-36).
    Hush,
    /// To ask the peer to open (W-24).
    Opening,
    /// To keep the link alive (W-34).
    KeepAlive,
    /// A confirmed item times out (W-37).
    Resend,
    /// A set-point waits for the line to drain (W-46), or for its pace (W-45).
    SetPoint,
    /// A new number waits for its pace (W-42).
    Pace,
    /// An acknowledgement has waited long enough for a frame to ride along on.
    Acknowledge,
    /// The peer becomes quiet, or the session ends by silence (W-33).
    Silence,
    /// Something is due for a leaf, says a hub ([`Hub`](crate::star::Hub)).
    Leaf,
    /// To ask the hub for an address, says a leaf ([`Leaf`](crate::star::Leaf), W-60).
    Joining,
    /// To ask the hub which frames to all are its own, says a leaf (W-70).
    ToAll,
}

/// The next wake-up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Wake {
    /// When.
    pub when: When,
    /// What for.
    pub reason: WakeReason,
}

impl Wake {
    const fn now(reason: WakeReason) -> Self {
        Self { when: When::Now, reason }
    }
}

/// The soonest of some deadlines.
struct Soonest {
    left: u32,
    reason: WakeReason,
}

impl Soonest {
    /// The first of equal ones counts.
    #[inline(never)]
    fn consider(&mut self, left: Option<u32>, reason: WakeReason) {
        if let Some(left) = left.filter(|&left| left < self.left) {
            *self = Self { left, reason };
        }
    }
}

impl<F: Framing, C: Fcs, const FRAME: usize, const WINDOW: usize, const QUEUE: usize>
    Link<F, C, FRAME, WINDOW, QUEUE>
{
    /// When the link must be served next, and why.
    #[must_use]
    #[inline(never)]
    pub fn poll_wake(&self) -> Wake {
        if self.has_event() {
            return Wake::now(WakeReason::Event);
        }
        if self.next_job().is_some() {
            return Wake::now(WakeReason::Transmit);
        }
        let mut next = Soonest { left: u32::MAX, reason: WakeReason::Nothing };
        if self.session.is_up() {
            if !self.outbox.is_empty() {
                next.consider(self.set_point_wait(), WakeReason::SetPoint);
                next.consider(self.resend_wait(), WakeReason::Resend);
            }
            next.consider(self.timers.silence.left(), WakeReason::Silence);
            next.consider(self.quiet_wait(), WakeReason::Silence);
            if !self.outbox.is_empty() {
                next.consider(self.confirmed_wait(), WakeReason::Pace);
            }
            next.consider(self.timers.ack.left().filter(|&left| left > 0), WakeReason::Acknowledge);
            next.consider(self.timers.keep_alive.left(), WakeReason::KeepAlive);
        } else if self.is_hushed() {
            next.consider(self.timers.silence.left(), WakeReason::Hush);
        } else if !self.closed {
            next.consider(Some(self.opening.left().as_ticks()), WakeReason::Opening);
        }
        let Soonest { left, reason } = next;
        match (left, reason) {
            (_, WakeReason::Nothing) => Wake { when: When::Idle, reason },
            (0, _) => Wake::now(reason),
            _ => {
                let left = Duration::from_ticks(left.min(LONGEST.as_ticks()));
                Wake { when: When::At(after(self.measures.last, left)), reason }
            }
        }
    }

    /// Time until an item times out.
    fn resend_wait(&self) -> Option<u32> {
        self.outbox.left().filter(|_| holds(134)).map(|left| left.as_ticks())
    }

    /// Time until a waiting set-point may be sent.
    fn set_point_wait(&self) -> Option<u32> {
        self.outbox.set_point()?;
        if self.set_point_pace_is_open() {
            self.set_point_hold().map(|left| left.as_ticks())
        } else {
            self.overtaking.get().map(|books| books.set_point_pace.left().as_ticks())
        }
    }

    /// Time until a new number may be taken into use.
    fn confirmed_wait(&self) -> Option<u32> {
        self.outbox.fresh(self.window())?;
        let books = self.overtaking.get().filter(|_| !self.confirmed_pace_is_open())?;
        Some(books.confirmed_pace.left().as_ticks())
    }
}
