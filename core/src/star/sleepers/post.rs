//! One sleeper: its mailbox, and the letter that the hub has been handed.

use super::Ticket;
use crate::{
    fcs::Fcs,
    frame::{Class, MessageNumber},
    framing::Framing,
    link::{self, Event, Outcome, SendError},
    star::{Fate, Hub, Mailbox, Seconds},
    time::Instant,
};

/// What became of a letter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct LetterEvent {
    /// The leaf that it was for.
    pub leaf: u8,
    /// Its name.
    pub ticket: Ticket,
    /// What became of it.
    pub end: LetterEnd,
}

/// How a letter ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum LetterEnd {
    /// An errand or report: the leaf has acknowledged it.
    Confirmed,
    /// A set-point or notice: it has left.
    Sent,
    /// It may have arrived: all tries of an errand or report failed, or the session ended with the letter under way.
    Unknown,
    /// It waited too long: *not sent*, for certain.
    Expired,
    /// The leaf cannot take it: *not sent*, for certain.
    Refused(SendError),
}

/// The letter that the hub has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
struct Offered {
    letter: Ticket,
    message: link::Ticket,
    class: Class,
    expires: Seconds,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(super) struct Sleeper<const LETTERS: usize, const OCTETS: usize> {
    pub(super) leaf: u8,
    /// How long it listens after each of its frames, µs.
    pub(super) awake: u32,
    pub(super) mailbox: Mailbox<LETTERS, OCTETS>,
    offered: Option<Offered>,
}

impl<const LETTERS: usize, const OCTETS: usize> Sleeper<LETTERS, OCTETS> {
    pub(super) const fn new(leaf: u8, awake: u32) -> Self {
        Self { leaf, awake, mailbox: Mailbox::new(), offered: None }
    }

    fn settle(&mut self, letter: Ticket, fate: Fate, end: LetterEnd) -> Option<LetterEvent> {
        self.offered = None;
        let event = LetterEvent { leaf: self.leaf, ticket: letter, end };
        (self.mailbox.settle(letter, fate) && fate != Fate::NotSent).then_some(event)
    }

    pub(super) fn handle_event(&mut self, event: &Event<'_>) -> Option<LetterEvent> {
        let Offered { letter, message, class, .. } = self.offered?;
        match *event {
            Event::Outcome { ticket, outcome } if ticket == message => match outcome {
                Outcome::Delivered => self.settle(letter, Fate::Confirmed, LetterEnd::Confirmed),
                Outcome::Unknown => self.settle(letter, Fate::Unknown, LetterEnd::Unknown),
                // It waits again, for the next session.
                Outcome::NotSent(_) => self.settle(letter, Fate::NotSent, LetterEnd::Unknown),
            },
            // Whether it left before is not told.
            Event::Ended(_) if !class.is_confirmed() => {
                self.settle(letter, Fate::Unknown, LetterEnd::Unknown)
            }
            _ => None,
        }
    }

    /// Whether the hub has a letter whose leaving nothing will tell.
    pub(super) fn may_leave(&self) -> bool {
        self.offered.is_some_and(|offered| !offered.class.is_confirmed())
    }

    /// A newer set-point comes: an older one that the hub has, but has not sent, goes back, to be replaced.
    pub(super) fn take_back_older<
        F: Framing,
        C: Fcs,
        const LEAVES: usize,
        const POOL: usize,
        const FRAME: usize,
    >(
        &mut self,
        hub: &mut Hub<F, C, LEAVES, POOL, FRAME>,
        class: Class,
        payload: &[u8],
    ) {
        let Some(offered) = self.offered.filter(|offered| offered.class == Class::SetPoint) else { return };
        let older = self.mailbox.letters().iter().find(|letter| letter.ticket == offered.letter);
        let same = older.is_some_and(|older| MessageNumber::of(&older.payload) == MessageNumber::of(payload));
        if same && class == Class::SetPoint && hub.take_back(self.leaf, offered.message) {
            self.settle(offered.letter, Fate::NotSent, LetterEnd::Unknown);
        }
    }

    /// One step: says what became of a letter, or hands the next one to the hub if the leaf listens.
    pub(super) fn pump<F: Framing, C: Fcs, const LEAVES: usize, const POOL: usize, const FRAME: usize>(
        &mut self,
        hub: &mut Hub<F, C, LEAVES, POOL, FRAME>,
        now: Instant,
        today: Seconds,
    ) -> Option<LetterEvent> {
        if let Some(offered) = self.offered {
            if !hub.is_waiting(self.leaf, offered.message) {
                // It has left. That of a confirmed one is told by its outcome.
                let sent = !offered.class.is_confirmed();
                return if sent { self.settle(offered.letter, Fate::Sent, LetterEnd::Sent) } else { None };
            }
            if offered.expires > today || !hub.take_back(self.leaf, offered.message) {
                return None;
            }
            self.settle(offered.letter, Fate::NotSent, LetterEnd::Unknown);
        }
        if let Some(expired) = self.mailbox.poll_expired(today) {
            let (leaf, ticket) = (self.leaf, expired.ticket);
            return Some(LetterEvent { leaf, ticket, end: LetterEnd::Expired });
        }
        if hub.is_awake(self.leaf) { self.offer(hub, now, today) } else { None }
    }

    fn offer<F: Framing, C: Fcs, const LEAVES: usize, const POOL: usize, const FRAME: usize>(
        &mut self,
        hub: &mut Hub<F, C, LEAVES, POOL, FRAME>,
        now: Instant,
        today: Seconds,
    ) -> Option<LetterEvent> {
        let letter = self.mailbox.offer(today)?;
        let (ticket, class, expires) = (letter.ticket, letter.class, letter.expires);
        match hub.send(now, self.leaf, class, &letter.payload) {
            Ok(message) => {
                self.offered = Some(Offered { letter: ticket, message, class, expires });
                None
            }
            // It will go another time.
            Err(SendError::NotOpen | SendError::QueueFull) => {
                self.settle(ticket, Fate::NotSent, LetterEnd::Unknown)
            }
            Err(why) => self.settle(ticket, Fate::Unknown, LetterEnd::Refused(why)),
        }
    }
}
