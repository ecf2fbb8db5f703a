//! What waits at the hub for a leaf that sleeps (W-61).

use super::Seconds;
use crate::{
    frame::{Class, MessageNumber},
    rules::holds,
};
use heapless::Vec;

/// Names a letter; a mailbox gives each of 65 536 in turn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Ticket(u16);

/// Where a letter is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Post {
    /// It waits for the leaf to wake.
    Queued,
    /// It is handed to the link, and has no outcome yet.
    Offered,
}

/// What became of a letter that was offered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Fate {
    /// *Delivered*: the letter is done.
    Confirmed,
    /// It has left and will not be confirmed: a set-point or a notice. Done.
    Sent,
    /// *Unknown*: it may have arrived. Done; whoever sends it again may make the leaf act twice.
    Unknown,
    /// *Not sent*, for certain: it waits again, where it was.
    NotSent,
}

/// A message that waits.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Letter<const OCTETS: usize> {
    /// Its name.
    pub ticket: Ticket,
    /// Its class.
    pub class: Class,
    /// Where it is.
    pub post: Post,
    /// It expires at this time, if it still waits.
    pub expires: Seconds,
    /// The message number, and what follows it.
    pub payload: Vec<u8, OCTETS>,
}

/// Why a message was not taken. It was not sent, for certain.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum NotTaken {
    /// As many letters wait as there is room for.
    Full,
    /// Longer than a letter may be.
    TooLong,
    /// It does not start with a message number (W-18).
    NoMessageNumber,
}

/// A message was taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Accepted {
    /// Its name.
    pub ticket: Ticket,
    /// The older set-point with its message number, which will not be sent any more.
    pub replaces: Option<Ticket>,
}

/// The letters for one sleeping leaf: at most `LETTERS`, of at most `OCTETS` octets each.
///
/// # Grammar
/// [`push`](Self::push) messages at any time. When the leaf is awake, hand the link what [`offer`](Self::offer) gives until it gives nothing, and tell each outcome to
/// [`settle`](Self::settle). [`has_more`](Self::has_more) is what the acknowledgements to the leaf say in bit 7 of *held* (W-16). [`poll_expired`](Self::poll_expired) names what waited too long.
///
/// # Example
/// ```
/// use bellwire::{frame::Class, star::{Fate, Mailbox}};
///
/// let mut lamp = Mailbox::<4, 16>::new();
/// let off = lamp.push(Class::SetPoint, &[3, 0], 0, 60).unwrap();
/// let on = lamp.push(Class::SetPoint, &[3, 100], 5, 60).unwrap();
/// assert_eq!(on.replaces, Some(off.ticket));
/// assert!(lamp.has_more());
/// // The porch wakes.
/// let letter = lamp.offer(30).unwrap();
/// assert_eq!(letter.payload, [3, 100]);
/// let ticket = letter.ticket;
/// assert!(lamp.settle(ticket, Fate::Sent));
/// assert!(!lamp.has_more());
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Mailbox<const LETTERS: usize, const OCTETS: usize> {
    letters: Vec<Letter<OCTETS>, LETTERS>,
    next: u16,
}

impl<const LETTERS: usize, const OCTETS: usize> Default for Mailbox<LETTERS, OCTETS> {
    fn default() -> Self {
        Self::new()
    }
}

impl<const LETTERS: usize, const OCTETS: usize> Mailbox<LETTERS, OCTETS> {
    /// Empty.
    #[must_use]
    pub const fn new() -> Self {
        Self { letters: Vec::new(), next: 0 }
    }

    /// All letters, in the order in which they came.
    #[must_use]
    pub fn letters(&self) -> &[Letter<OCTETS>] {
        &self.letters
    }

    /// Whether a letter waits.
    #[must_use]
    pub fn has_more(&self) -> bool {
        self.letters.iter().any(|letter| letter.post == Post::Queued)
    }

    /// Takes a message that expires when it still waits `life` seconds from now. A set-point takes the place of a waiting one with the same
    /// message number.
    ///
    /// # Errors
    /// Why it was not taken; nothing has changed.
    pub fn push(
        &mut self,
        class: Class,
        payload: &[u8],
        now: Seconds,
        life: Seconds,
    ) -> Result<Accepted, NotTaken> {
        let (number, _) = MessageNumber::split(payload).map_err(|_| NotTaken::NoMessageNumber)?;
        let payload = Vec::from_slice(payload).map_err(|_| NotTaken::TooLong)?;
        let older = self.letters.iter().position(|letter| {
            class == Class::SetPoint
                && (letter.class, letter.post) == (class, Post::Queued)
                && MessageNumber::split(&letter.payload).is_ok_and(|(other, _)| other == number)
        });
        if older.is_none() && self.letters.is_full() {
            return Err(NotTaken::Full);
        }
        let replaces = older.map(|place| self.letters.remove(place).ticket);
        // None that a letter still has, however long that has waited.
        while self.letters.iter().any(|letter| letter.ticket == Ticket(self.next)) {
            self.next = self.next.wrapping_add(1);
        }
        let ticket = Ticket(self.next);
        self.next = self.next.wrapping_add(1);
        let letter = Letter { ticket, class, post: Post::Queued, expires: now.saturating_add(life), payload };
        self.letters.push(letter).map_err(|_| NotTaken::Full)?;
        Ok(Accepted { ticket, replaces })
    }

    /// The next letter for the link, from now on *offered*: set-points first, then in the order in which they came. Expired ones are left for
    /// [`poll_expired`](Self::poll_expired).
    pub fn offer(&mut self, now: Seconds) -> Option<&Letter<OCTETS>> {
        let waits = |letter: &&mut Letter<OCTETS>| {
            letter.post == Post::Queued && (letter.expires > now || !holds(61))
        };
        let urgent = self.letters.iter().position(|letter| {
            letter.class == Class::SetPoint && letter.post == Post::Queued && letter.expires > now
        });
        let letter = match urgent {
            Some(place) => self.letters.get_mut(place),
            None => self.letters.iter_mut().find(waits),
        }?;
        letter.post = Post::Offered;
        Some(letter)
    }

    /// Tells what became of an offered letter; gives whether there is one of that name.
    pub fn settle(&mut self, ticket: Ticket, fate: Fate) -> bool {
        let named = |letter: &Letter<OCTETS>| letter.ticket == ticket && letter.post == Post::Offered;
        let Some(place) = self.letters.iter().position(named) else { return false };
        if fate != Fate::NotSent {
            self.letters.remove(place);
            return true;
        }
        // A set-point that did not leave is not worth more than a newer one that came meanwhile.
        let newer = self.letters.get(place).is_some_and(|back| {
            back.class == Class::SetPoint
                && self.letters.iter().any(|other| {
                    (other.class, other.post) == (Class::SetPoint, Post::Queued)
                        && MessageNumber::split(&other.payload).map(|(number, _)| number)
                            == MessageNumber::split(&back.payload).map(|(number, _)| number)
                })
        });
        if newer {
            self.letters.remove(place);
        } else if let Some(letter) = self.letters.get_mut(place) {
            letter.post = Post::Queued;
        }
        true
    }

    /// Takes out a letter that waited too long, and hands it back: it was *not sent*, for certain.
    pub fn poll_expired(&mut self, now: Seconds) -> Option<Letter<OCTETS>> {
        let over = |letter: &Letter<OCTETS>| letter.post == Post::Queued && letter.expires <= now;
        let place = self.letters.iter().position(over)?;
        Some(self.letters.remove(place))
    }
}

#[cfg(test)]
mod tests;
