//! The leaves of a hub that sleep, and what waits for them (W-61).

mod due;
mod post;

pub use post::{LetterEnd, LetterEvent};

use self::{due::Due, post::Sleeper};
use super::{Accepted, Hub, HubEvent, Letter, NotTaken, Seconds, Speaks, mailbox};
use crate::{
    fcs::Fcs,
    frame::Class,
    framing::Framing,
    time::{Duration, Instant},
};
use heapless::Vec;

/// Why a message for a sleeper was not taken: it was not sent, for certain.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum NotPosted {
    /// No sleeper was admitted at this address.
    NoSuchSleeper,
    /// Its mailbox did not take the message.
    Mailbox(NotTaken),
}

/// A mailbox for each of up to `COUNT` sleeping leaves of a hub: `LETTERS` letters of up to `OCTETS` octets.
///
/// The hub hands a letter to the leaf when the leaf has spoken, one after the other, set-points first; until the leaf's time to listen is over. While
/// letters wait, the acknowledgements to the leaf say *more* (W-16, bit 7 of *held*).
///
/// # Law
/// Hand every event of the hub to [`handle_event`](Self::handle_event). After the hub's events are drained, and after each frame that the hub sends, call [`poll`](Self::poll)
/// until it gives `None`, and only then the hub's `poll_transmit`. What expires while nothing happens is told when the leaf is heard, or by [`poll_expired`](Self::poll_expired).
///
/// # Example
/// ```
/// use bellwire::{
///     fcs::Fcs16,
///     frame::Class,
///     framing::Datagram,
///     star::{Hub, HubConfig, Sleepers},
///     time::{Duration, Instant},
/// };
///
/// let now = Instant::from_ticks(0);
/// let config = HubConfig::datagram(1_000, Duration::from_millis(200), 0x1000);
/// let mut desk = Hub::<Datagram, Fcs16, 8, 16, 64>::new(Datagram, config, now);
/// let mut sleepers = Sleepers::<2, 4, 16>::new();
/// // The porch, leaf 4, listens for 300 ms after each of its frames.
/// assert!(sleepers.admit(&mut desk, now, 4, Duration::from_millis(300)));
/// // Its lamp, on at 40 %: worth sending for an hour.
/// sleepers.send(&mut desk, 4, Class::SetPoint, &[3, 40], 0, 3_600).unwrap();
/// assert!(sleepers.poll(&mut desk, now, 0).is_none());
/// assert!(desk.poll_transmit(now, &mut [0; 80]).is_none(), "it sleeps");
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Sleepers<const COUNT: usize, const LETTERS: usize, const OCTETS: usize> {
    /// By address, rising.
    sleepers: Vec<Sleeper<LETTERS, OCTETS>, COUNT>,
    /// The one that [`Sleepers::poll_expired`] looks at next.
    look: usize,
    /// Those that need a look: they were heard, or have a new letter or an outcome.
    due: Due,
}

impl<const COUNT: usize, const LETTERS: usize, const OCTETS: usize> Default
    for Sleepers<COUNT, LETTERS, OCTETS>
{
    fn default() -> Self {
        Self::new()
    }
}

impl<const COUNT: usize, const LETTERS: usize, const OCTETS: usize> Sleepers<COUNT, LETTERS, OCTETS> {
    /// Nobody yet.
    #[must_use]
    pub const fn new() -> Self {
        Self { sleepers: Vec::new(), look: 0, due: Due::NOBODY }
    }

    fn find(&self, leaf: u8) -> Result<usize, usize> {
        self.sleepers.binary_search_by_key(&leaf, |sleeper| sleeper.leaf)
    }

    fn sleeper_mut(&mut self, leaf: u8) -> Option<&mut Sleeper<LETTERS, OCTETS>> {
        let place = self.find(leaf).ok()?;
        self.sleepers.get_mut(place)
    }

    /// There is a leaf at this address that listens for `awake` (at most 60 s) after each of its frames and sleeps otherwise; the hub gets to know it too. Letters stay
    /// for one that is there. Gives `false` if there is no room, or the hub has no such address.
    pub fn admit<F: Framing, C: Fcs, const LEAVES: usize, const POOL: usize, const FRAME: usize>(
        &mut self,
        hub: &mut Hub<F, C, LEAVES, POOL, FRAME>,
        now: Instant,
        leaf: u8,
        awake: Duration,
    ) -> bool {
        let place = self.find(leaf);
        if place.is_err() && self.sleepers.is_full() || !hub.admit(now, leaf, Speaks::Sleeper) {
            return false;
        }
        match place {
            Ok(place) => {
                if let Some(sleeper) = self.sleepers.get_mut(place) {
                    sleeper.awake = awake.as_ticks();
                }
                true
            }
            Err(place) => self.sleepers.insert(place, Sleeper::new(leaf, awake.as_ticks())).is_ok(),
        }
    }

    /// Forgets the leaf and its letters; the hub is to [`dismiss`](Hub::dismiss) it too. Gives whether there was one.
    pub fn dismiss(&mut self, leaf: u8) -> bool {
        let Ok(place) = self.find(leaf) else { return false };
        self.sleepers.remove(place);
        true
    }

    /// What waits for a leaf, in the order in which it came; nothing for one that is not admitted.
    #[must_use]
    pub fn letters(&self, leaf: u8) -> &[Letter<OCTETS>] {
        let place = self.find(leaf).ok();
        place.and_then(|place| self.sleepers.get(place)).map_or(&[], |sleeper| sleeper.mailbox.letters())
    }

    /// Takes a message for a leaf, with or without a session: it waits until the leaf has spoken. It expires when it still waits `life` seconds from `today`. A
    /// set-point takes the place of a waiting one with the same message number.
    ///
    /// # Errors
    /// Why it was not taken; nothing has changed.
    pub fn send<F: Framing, C: Fcs, const LEAVES: usize, const POOL: usize, const FRAME: usize>(
        &mut self,
        hub: &mut Hub<F, C, LEAVES, POOL, FRAME>,
        leaf: u8,
        class: Class,
        payload: &[u8],
        today: Seconds,
        life: Seconds,
    ) -> Result<Accepted, NotPosted> {
        let sleeper = self.sleeper_mut(leaf).ok_or(NotPosted::NoSuchSleeper)?;
        sleeper.take_back_older(hub, class, payload);
        let accepted = sleeper.mailbox.push(class, payload, today, life).map_err(NotPosted::Mailbox)?;
        hub.set_more(leaf, true);
        // Without waiting for it to be heard: it may listen just now.
        self.due.insert(leaf);
        Ok(accepted)
    }

    /// Takes an event of the hub: an outcome of a letter, or the end of a session. Gives what became of the letter.
    pub fn handle_event(&mut self, told: &HubEvent<'_>) -> Option<LetterEvent> {
        let leaf = told.leaf?;
        let event = self.sleeper_mut(leaf)?.handle_event(&told.event);
        if event.is_some() {
            self.due.insert(leaf);
        }
        event
    }

    /// Hands letters to the hub for the leaf that was heard, and says what became of others. Call it until it gives `None`, after every drain of the hub's events.
    pub fn poll<F: Framing, C: Fcs, const LEAVES: usize, const POOL: usize, const FRAME: usize>(
        &mut self,
        hub: &mut Hub<F, C, LEAVES, POOL, FRAME>,
        now: Instant,
        today: Seconds,
    ) -> Option<LetterEvent> {
        if let Some(event) = self.pump_due(hub, now, today) {
            return Some(event);
        }
        let leaf = hub.take_heard()?;
        let awake = self.sleeper_mut(leaf)?.awake;
        hub.set_awake(now, leaf, Duration::from_ticks(awake));
        self.due.insert(leaf);
        self.pump_due(hub, now, today)
    }

    fn pump_due<F: Framing, C: Fcs, const LEAVES: usize, const POOL: usize, const FRAME: usize>(
        &mut self,
        hub: &mut Hub<F, C, LEAVES, POOL, FRAME>,
        now: Instant,
        today: Seconds,
    ) -> Option<LetterEvent> {
        let mut from = 0;
        while let Some(leaf) = self.due.first_from(from) {
            let event = self.pump(hub, now, leaf, today);
            if event.is_some() {
                return event;
            }
            if !self.sleeper_mut(leaf).is_some_and(|sleeper| sleeper.may_leave()) {
                self.due.remove(leaf);
            }
            from = leaf.saturating_add(1);
        }
        None
    }

    fn pump<F: Framing, C: Fcs, const LEAVES: usize, const POOL: usize, const FRAME: usize>(
        &mut self,
        hub: &mut Hub<F, C, LEAVES, POOL, FRAME>,
        now: Instant,
        leaf: u8,
        today: Seconds,
    ) -> Option<LetterEvent> {
        let sleeper = self.sleeper_mut(leaf)?;
        let event = sleeper.pump(hub, now, today);
        hub.set_more(leaf, sleeper.mailbox.has_more());
        event
    }

    /// Takes out a letter that waited too long: it was *not sent*, for certain. It looks at one leaf a call, so call it at least once for each in the time in
    /// which it should be told.
    pub fn poll_expired(&mut self, today: Seconds) -> Option<(u8, Letter<OCTETS>)> {
        let place = self.look.checked_rem(self.sleepers.len()).unwrap_or(0);
        let sleeper = self.sleepers.get_mut(place)?;
        let expired = sleeper.mailbox.poll_expired(today);
        if expired.is_none() {
            self.look = place.saturating_add(1);
        }
        expired.map(|letter| (sleeper.leaf, letter))
    }
}

/// The name of a letter.
type Ticket = mailbox::Ticket;

#[cfg(test)]
mod tests;
