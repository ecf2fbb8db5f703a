//! A leaf's side: which frames to all are new.

use core::cmp::Ordering;

use super::{BITS, Told, is_to_all};
use crate::{
    frame::{Class, Reject, View},
    rules::holds,
    seq::Serial,
    time::Duration,
};

/// Kinds of set-point that can be told apart within one lifetime (W-45).
const KINDS: usize = 8;

/// The last set-point taken of one kind, forgotten after a lifetime.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
struct Last {
    message: u16,
    number: u8,
    /// µs; zero: forgotten.
    left: u32,
}

/// Whether the hub has told which frames to all are its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
enum Known {
    /// No session is open.
    Closed,
    /// This session is open.
    Opened(u32),
    /// And in it the hub has told this broadcast number.
    Told(u32, u32),
}

/// What a leaf takes of the frames to all.
///
/// # Grammar
/// [`opened`](Self::opened) and [`ended`](Self::ended) as the link's session does; [`handle_told`](Self::handle_told) what the hub tells;
/// [`hear`](Self::hear) each frame to all; [`poll_ask`](Self::poll_ask) says when to ask the hub with an empty TO ALL; [`elapse`](Self::elapse) time.
///
/// # What it promises
/// Nothing is taken but in a session, hence with one agreement; nothing that was sent before the hub told, hence nothing from before a restart of the hub or of this leaf;
/// on a radio no set-point twice, and none after a newer one with its message number, for copies that live no longer than L.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct BroadcastReceiver {
    known: Known,
    /// The lifetime of a frame (L), µs; 0 on ordered links.
    lifetime: u32,
    /// The number that comes next if none is lost.
    #[cfg_attr(feature = "defmt", defmt(Debug2Format))]
    expected: Serial,
    /// The first number of this session, and how long older ones may still come, µs.
    #[cfg_attr(feature = "defmt", defmt(Debug2Format))]
    first: Serial,
    older: u32,
    last: [Last; KINDS],
    /// A frame to all came that we know nothing of.
    ask: bool,
    /// µs until we may ask again.
    hush: u32,
}

impl BroadcastReceiver {
    /// No session yet. `lifetime`: that of a frame (L); zero on ordered links.
    #[must_use]
    pub fn new(lifetime: Duration) -> Self {
        Self {
            known: Known::Closed,
            lifetime: lifetime.as_ticks(),
            expected: Serial::default(),
            first: Serial::default(),
            older: 0,
            last: Default::default(),
            ask: false,
            hush: 0,
        }
    }

    /// A session with the hub is open: its number (W-23). What was told before counts no more.
    pub fn opened(&mut self, session: u32) {
        self.known = Known::Opened(session & BITS);
        self.forget();
    }

    /// The session has ended: nothing to all is taken.
    pub fn ended(&mut self) {
        self.known = Known::Closed;
        self.forget();
    }

    fn forget(&mut self) {
        self.last = Default::default();
        self.ask = false;
    }

    /// Whether frames to all can be taken.
    #[must_use]
    pub const fn is_told(&self) -> bool {
        matches!(self.known, Known::Told(..))
    }

    /// The hub tells. Gives whether it is for this session; a copy, or what is told again, changes nothing.
    pub fn handle_told(&mut self, told: Told) -> bool {
        match self.known {
            Known::Opened(session) if session == told.session => {
                self.known = Known::Told(session, told.broadcast);
                self.expected = Serial::new(told.next);
                self.first = self.expected;
                self.older = self.lifetime;
                self.ask = false;
                true
            }
            Known::Told(session, broadcast) => (session, broadcast) == (told.session, told.broadcast),
            _ => false,
        }
    }

    /// Takes a frame to all; gives how many were lost before it, by their number.
    ///
    /// # Errors
    /// Why it is not to be delivered: [`Reject::NotOpen`] without a session, [`Reject::OtherSession`] if it is not of the hub that was told (or none was told yet),
    /// [`Reject::StaleSetPoint`] and [`Reject::OutsideWindow`] for one older than what counts, [`Reject::NoRoom`] for a ninth kind of set-point within L, and
    /// [`Reject::NotForUs`] if it is no frame to all.
    pub fn hear(&mut self, view: &View<'_>) -> Result<u8, Reject> {
        let header = &view.header;
        if !is_to_all(header) {
            return Err(Reject::NotForUs);
        }
        match self.known {
            Known::Closed => return Err(Reject::NotOpen),
            Known::Told(_, broadcast) if Self::is_of(broadcast, view) => {}
            _ => {
                self.ask = true;
                return Err(Reject::OtherSession);
            }
        }
        let number = Serial::new(header.number);
        if self.older > 0 && number != self.first && !number.is_newer_than(self.first) {
            return Err(Reject::OutsideWindow);
        }
        if header.kind.class() == Some(Class::SetPoint) {
            self.judge(view, number)?;
        }
        Ok(self.count(number))
    }

    fn is_of(broadcast: u32, view: &View<'_>) -> bool {
        let header = &view.header;
        !holds(70)
            || (u32::from(header.session) == broadcast & 3
                && header.tag.is_none_or(|tag| u32::from(tag) == broadcast >> 2))
    }

    /// Whether a set-point is newer than the last one of its kind (W-45); takes note of it.
    fn judge(&mut self, view: &View<'_>, number: Serial) -> Result<(), Reject> {
        if self.lifetime == 0 {
            return Ok(());
        }
        let message = view.message().ok_or(Reject::BadMessageNumber)?.get();
        let same = self.last.iter().position(|last| last.left > 0 && last.message == message);
        let place = same.or_else(|| self.last.iter().position(|last| last.left == 0));
        let last = place.and_then(|place| self.last.get_mut(place)).ok_or(Reject::NoRoom)?;
        if last.left > 0 && !number.is_newer_than(Serial::new(last.number)) {
            return Err(Reject::StaleSetPoint);
        }
        *last = Last { message, number: number.get(), left: self.lifetime };
        Ok(())
    }

    /// How many were lost before this one.
    fn count(&mut self, number: Serial) -> u8 {
        let late = self.lifetime > 0 && self.expected.compare(number) == Some(Ordering::Greater);
        if late {
            return 0;
        }
        let missed = number.since(self.expected);
        self.expected = number.plus(1);
        missed
    }

    /// Whether to ask the hub now, with an empty TO ALL: a frame to all came that we know nothing of. It is then taken as asked, and not
    /// given again for `pause`.
    pub fn poll_ask(&mut self, pause: Duration) -> bool {
        let asks = self.ask && self.hush == 0;
        if asks {
            self.ask = false;
            self.hush = pause.as_ticks();
        }
        asks
    }

    /// How long until [`poll_ask`](Self::poll_ask) says yes; `None` if there is nothing to ask.
    #[must_use]
    pub fn ask_wait(&self) -> Option<Duration> {
        self.ask.then(|| Duration::from_ticks(self.hush))
    }

    /// Time passes.
    pub fn elapse(&mut self, span: Duration) {
        let span = span.as_ticks();
        self.older = self.older.saturating_sub(span);
        self.hush = self.hush.saturating_sub(span);
        for last in &mut self.last {
            last.left = last.left.saturating_sub(span);
            if last.left == 0 {
                *last = Last::default();
            }
        }
    }
}
