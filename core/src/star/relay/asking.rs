//! The first leaf's side: what it has asked the hub to pass on.

use super::{Carried, FarOutcome, Relayed};
use crate::{
    link::{Event, Outcome, Ticket},
    time::{Duration, Instant, elapsed},
};
use heapless::Vec;

/// How far a message for another leaf has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum RelayStep {
    /// Taken by the hub: it will try. More is to come.
    Taken,
    /// Delivered at the far leaf. The end.
    Delivered,
    /// It never left the hub, or never this leaf. The end.
    NotSent,
    /// It may have arrived. The end.
    Unknown,
}

/// News of a message for another leaf.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct RelayEvent {
    /// The leaf that it is for.
    pub to: u8,
    /// What [`Relaying::ask`] called it.
    pub name: u8,
    /// How far it has come.
    pub step: RelayStep,
}

/// A payload that is ready to be sent to the hub.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Asked {
    /// The leaf that it is for.
    pub to: u8,
    /// Its name, until its last event.
    pub name: u8,
    /// Octets of the payload.
    pub len: usize,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
struct Pending {
    to: u8,
    name: u8,
    ticket: Ticket,
    taken: bool,
    /// When it was accepted, and how long its outcome may take, µs.
    begun: u32,
    limit: u32,
}

/// Up to `COUNT` messages for other leaves, of which not all is known yet.
///
/// # Law
/// [`ask`](Self::ask) makes a payload; [`send`](crate::link::Link::send) it as an errand or report, and hand its ticket to [`accepted`](Self::accepted). Hand every event of the link to
/// [`handle_event`](Self::handle_event), then drain [`poll`](Self::poll); call that at least once in each limit.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Relaying<const COUNT: usize> {
    pending: Vec<Pending, COUNT>,
    next: u8,
    /// The session in which they were taken has ended.
    ended: bool,
}

impl<const COUNT: usize> Default for Relaying<COUNT> {
    fn default() -> Self {
        Self::new()
    }
}

impl<const COUNT: usize> Relaying<COUNT> {
    /// Nothing is under way.
    #[must_use]
    pub const fn new() -> Self {
        const { assert!(COUNT >= 1 && COUNT <= 128, "1 to 128 messages, so that a name is free") };
        Self { pending: Vec::new(), next: 0, ended: false }
    }

    /// Messages under way.
    #[must_use]
    pub fn under_way(&self) -> usize {
        self.pending.len()
    }

    /// Writes into `out` the payload that asks the hub to pass `message` (its own number first) to the leaf `to`. `None` if `COUNT` are under way, if it does not fit, or if it is no
    /// message.
    #[must_use]
    pub fn ask(&mut self, to: u8, message: &[u8], out: &mut [u8]) -> Option<Asked> {
        if self.pending.is_full() {
            return None;
        }
        let taken = |name: u8| self.pending.iter().any(|pending| pending.name == name);
        let name = (0..=u8::MAX).map(|more| self.next.wrapping_add(more)).find(|&name| !taken(name))?;
        let len = Relayed { other: to, name, carried: Carried::Message(message) }.write(out)?;
        Relayed::parse(out.get(..len)?).ok()??;
        self.next = name.wrapping_add(1);
        Some(Asked { to, name, len })
    }

    /// The link has accepted the payload with this ticket. If nothing more is heard within `limit` (at most 30 minutes), its outcome is *unknown*.
    pub fn accepted(&mut self, asked: Asked, ticket: Ticket, now: Instant, limit: Duration) {
        let Asked { to, name, .. } = asked;
        let (begun, limit) = (now.as_ticks(), limit.as_ticks().min(1_800_000_000));
        let _ = self.pending.push(Pending { to, name, ticket, taken: false, begun, limit });
    }

    /// Takes an event of the link; gives what it means for a message under way.
    pub fn handle_event(&mut self, event: &Event<'_>) -> Option<RelayEvent> {
        match *event {
            Event::Outcome { ticket, outcome } => {
                let place = self.pending.iter().position(|one| one.ticket == ticket && !one.taken)?;
                match outcome {
                    Outcome::Delivered => {
                        let pending = self.pending.get_mut(place)?;
                        pending.taken = true;
                        let Pending { to, name, .. } = *pending;
                        Some(RelayEvent { to, name, step: RelayStep::Taken })
                    }
                    Outcome::NotSent(_) => self.end(place, RelayStep::NotSent),
                    Outcome::Unknown => self.end(place, RelayStep::Unknown),
                }
            }
            Event::Message(message) => {
                let Ok(Some(Relayed { other, name, carried: Carried::Outcome(far) })) =
                    Relayed::parse(message.payload)
                else {
                    return None;
                };
                let place = self.pending.iter().position(|one| (one.to, one.name) == (other, name))?;
                let step = match far {
                    FarOutcome::Delivered => RelayStep::Delivered,
                    FarOutcome::NotSent => RelayStep::NotSent,
                    FarOutcome::Unknown => RelayStep::Unknown,
                };
                self.end(place, step)
            }
            Event::Ended(_) => {
                self.ended = true;
                None
            }
            _ => None,
        }
    }

    fn end(&mut self, place: usize, step: RelayStep) -> Option<RelayEvent> {
        (place < self.pending.len())
            .then(|| self.pending.remove(place))
            .map(|Pending { to, name, .. }| RelayEvent { to, name, step })
    }

    /// Messages whose outcome is *unknown*: the session with the hub that took them has ended, or their limit is over.
    pub fn poll(&mut self, now: Instant) -> Option<RelayEvent> {
        let over = |one: &Pending| {
            elapsed(now, Instant::from_ticks(one.begun)).as_ticks() >= one.limit || one.taken && self.ended
        };
        match self.pending.iter().position(over) {
            Some(place) => self.end(place, RelayStep::Unknown),
            None => {
                self.ended = false;
                None
            }
        }
    }
}
