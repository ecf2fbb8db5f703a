//! From leaf to leaf by way of the hub, with two outcomes told apart: taken by the hub, and delivered at the far leaf (W-68).

mod asking;
mod bodies;

pub use asking::{Asked, RelayEvent, RelayStep, Relaying};
pub use bodies::{Carried, FarOutcome, NotRelayed, RELAYED_LEN, Relayed};

use super::{Hub, HubEvent};
use crate::{
    fcs::Fcs,
    frame::Class,
    framing::Framing,
    link::{Event, Outcome, SendError, Ticket},
    time::Instant,
};
use heapless::Vec;

/// Where a message is.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
enum Stage {
    /// The hub has no room for it yet.
    Waiting,
    /// On its way to the far leaf.
    Under(Ticket),
    /// Its outcome is to be told.
    Tell(FarOutcome),
    /// Its outcome is on its way to the first leaf.
    Told(Ticket),
}

#[derive(Debug, Clone, PartialEq, Eq, Hash)]
struct Entry<const OCTETS: usize> {
    /// The first leaf; 0: its session has ended, and nobody asks for the outcome any more.
    from: u8,
    to: u8,
    name: u8,
    class: Class,
    stage: Stage,
    message: Vec<u8, OCTETS>,
}

/// Passes errands and reports from leaf to leaf: up to `COUNT` at a time, of up to `OCTETS` octets. Set-points and notices are not relayed: they would age on the way.
///
/// # Law
/// Hand every event of the hub to [`handle_event`](Self::handle_event); those that it takes are no business of the program. Call [`poll`](Self::poll) after the hub's events are
/// drained, before its `poll_transmit`.
///
/// Who obeys a relayed errand obeys the leaf that sent it, not the hub: what moves something must ask itself whether it should.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Relay<const COUNT: usize, const OCTETS: usize> {
    entries: Vec<Entry<OCTETS>, COUNT>,
    dropped: u32,
}

impl<const COUNT: usize, const OCTETS: usize> Default for Relay<COUNT, OCTETS> {
    fn default() -> Self {
        Self::new()
    }
}

impl<const COUNT: usize, const OCTETS: usize> Relay<COUNT, OCTETS> {
    /// Nothing is under way.
    #[must_use]
    pub const fn new() -> Self {
        Self { entries: Vec::new(), dropped: 0 }
    }

    /// Messages whose outcome is not settled.
    #[must_use]
    pub fn under_way(&self) -> usize {
        self.entries.len()
    }

    /// Messages that came when `COUNT` were under way: they were not relayed, and their outcome is not told, so that the leaf calls it *unknown* when its limit is over.
    #[must_use]
    pub const fn dropped(&self) -> u32 {
        self.dropped
    }

    /// Takes an event of the hub; gives whether it belongs to the relay alone: the message of a leaf for another one, or the outcome of what the relay sent.
    pub fn handle_event(&mut self, told: &HubEvent<'_>) -> bool {
        let Some(leaf) = told.leaf else { return false };
        match told.event {
            Event::Message(message) if message.class.is_confirmed() => {
                self.take(leaf, message.class, message.payload)
            }
            Event::Outcome { ticket, outcome } => self.settle(ticket, outcome),
            Event::Resent { ticket, .. } => self.entries.iter().any(
                |entry| matches!(entry.stage, Stage::Under(under) | Stage::Told(under) if under == ticket),
            ),
            Event::Ended(_) => {
                self.forget(leaf);
                false
            }
            _ => false,
        }
    }

    fn take(&mut self, from: u8, class: Class, payload: &[u8]) -> bool {
        let Ok(Some(Relayed { other, name, carried: Carried::Message(message) })) = Relayed::parse(payload)
        else {
            return false;
        };
        let (message, stage) = match Vec::from_slice(message) {
            Ok(message) => (message, Stage::Waiting),
            Err(_) => (Vec::new(), Stage::Tell(FarOutcome::NotSent)),
        };
        if self.entries.push(Entry { from, to: other, name, class, stage, message }).is_err() {
            self.dropped = self.dropped.saturating_add(1);
        }
        true
    }

    fn settle(&mut self, ticket: Ticket, outcome: Outcome) -> bool {
        let of = |entry: &Entry<OCTETS>| matches!(entry.stage, Stage::Under(under) | Stage::Told(under) if under == ticket);
        let Some(place) = self.entries.iter().position(of) else { return false };
        let far = match outcome {
            Outcome::Delivered => FarOutcome::Delivered,
            Outcome::Unknown => FarOutcome::Unknown,
            Outcome::NotSent(_) => FarOutcome::NotSent,
        };
        match self.entries.get_mut(place) {
            Some(entry) if entry.from > 0 && matches!(entry.stage, Stage::Under(_)) => {
                entry.stage = Stage::Tell(far);
            }
            _ => {
                self.entries.remove(place);
            }
        }
        true
    }

    /// A session has ended: what waits for the leaf is not sent; what it sent is nobody's, and goes no further if it has not left.
    fn forget(&mut self, leaf: u8) {
        self.entries.retain_mut(|entry| {
            let waits = entry.stage == Stage::Waiting;
            if waits && entry.to == leaf {
                entry.stage = Stage::Tell(FarOutcome::NotSent);
            }
            if entry.from == leaf {
                entry.from = 0;
                // What is on its way still has an outcome to come.
                return matches!(entry.stage, Stage::Under(_) | Stage::Told(_));
            }
            true
        });
    }

    /// Hands to the hub what can go.
    pub fn poll<F: Framing, C: Fcs, const LEAVES: usize, const POOL: usize, const FRAME: usize>(
        &mut self,
        hub: &mut Hub<F, C, LEAVES, POOL, FRAME>,
        now: Instant,
    ) {
        let mut place = 0;
        while let Some(entry) = self.entries.get(place) {
            let waits_before = |other: &Entry<OCTETS>| other.stage == Stage::Waiting && other.to == entry.to;
            let stays = match &entry.stage {
                // In order: nothing overtakes what waits for the same leaf.
                Stage::Waiting if !self.entries.iter().take(place).any(waits_before) => {
                    self.forward(hub, now, place)
                }
                Stage::Tell(outcome) => {
                    let outcome = *outcome;
                    self.tell(hub, now, place, outcome)
                }
                _ => true,
            };
            if stays {
                place = place.saturating_add(1);
            } else {
                self.entries.remove(place);
            }
        }
    }

    /// Sends a message on its way; gives whether its entry stays.
    fn forward<F: Framing, C: Fcs, const LEAVES: usize, const POOL: usize, const FRAME: usize>(
        &mut self,
        hub: &mut Hub<F, C, LEAVES, POOL, FRAME>,
        now: Instant,
        place: usize,
    ) -> bool {
        let Some(entry) = self.entries.get_mut(place) else { return false };
        let relayed =
            Relayed { other: entry.from, name: entry.name, carried: Carried::Message(&entry.message) };
        let mut payload = [0; FRAME];
        let sent = match relayed.write(&mut payload) {
            Some(len) => hub.send(now, entry.to, entry.class, payload.get(..len).unwrap_or(&[])),
            None => Err(SendError::TooLong { limit: 0 }),
        };
        match sent {
            Ok(ticket) => {
                entry.stage = Stage::Under(ticket);
                entry.message.clear();
                true
            }
            Err(SendError::QueueFull) => true,
            Err(_) => {
                entry.stage = Stage::Tell(FarOutcome::NotSent);
                self.tell(hub, now, place, FarOutcome::NotSent)
            }
        }
    }

    /// Tells the first leaf an outcome; gives whether the entry stays.
    fn tell<F: Framing, C: Fcs, const LEAVES: usize, const POOL: usize, const FRAME: usize>(
        &mut self,
        hub: &mut Hub<F, C, LEAVES, POOL, FRAME>,
        now: Instant,
        place: usize,
        outcome: FarOutcome,
    ) -> bool {
        let Some(entry) = self.entries.get_mut(place) else { return false };
        let mut payload = [0; RELAYED_LEN];
        let told = Relayed { other: entry.to, name: entry.name, carried: Carried::Outcome(outcome) };
        if told.write(&mut payload).is_none() {
            return false;
        }
        match hub.send(now, entry.from, Class::Report, &payload) {
            Ok(ticket) => {
                entry.stage = Stage::Told(ticket);
                true
            }
            Err(why) => why == SendError::QueueFull,
        }
    }
}

#[cfg(test)]
mod tests;
