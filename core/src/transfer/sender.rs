//! The sending side: offers, sends the parts of a window, asks what has come.

use super::{Map, Message, Offer, PART_HEAD, Progress, Reason, Refused, parts::Parts};
use crate::{
    retry::{Dice, Next, Policy, Retry},
    rules::holds,
    time::Duration,
};
use core::ops::Range;

/// Maps in a row that show nothing new, after which a sender gives up.
const MOST_STALLS: u8 = 32;

/// How a sender waits for answers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Pace {
    /// The first time-out: at least the time of a part, its storing, the turn and a map.
    pub time_out: Duration,
    /// How it goes on from there.
    pub policy: Policy,
    /// Seed of the random part, 0 for none.
    pub seed: u32,
}

/// How a transfer ended for its sender.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Outcome {
    /// The receiver holds the whole and has checked it.
    Delivered,
    /// The receiver ended it.
    Refused(Reason),
    /// This side ended it.
    Stopped(Reason),
    /// No answer, or none that led on: some, all or none of it may have arrived. [`again`](Sender::again) goes on where it was.
    Unknown,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
enum Phase {
    Offering,
    Sending,
    Waiting,
    Over(Outcome),
}

/// The sending side of one transfer. It holds no content: some 80 octets.
///
/// # Grammar
/// [`handle`](Self::handle) a body, [`elapse`](Self::elapse) time; then [`poll_transmit`](Self::poll_transmit) until it gives nothing, whenever no other
/// class has anything to send; sleep until [`poll_wake`](Self::poll_wake). After a restart make it anew with the same offer: it goes on where it was.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Sender {
    offer: Offer,
    pace: Pace,
    dice: Dice,
    phase: Phase,
    /// What the receiver holds, by its newest map.
    parts: Parts,
    window: u8,
    /// Bit i: part base+i has been sent since that map.
    sent: u32,
    round: u8,
    retry: Retry,
    /// A question, or the word that it is over, goes out next.
    due: bool,
    most_held: u32,
    stalls: u8,
}

impl Sender {
    /// Offers `offer`; `None` if such a transfer cannot be ([`Offer::is_sound`]).
    #[must_use]
    pub fn new(offer: Offer, pace: Pace) -> Option<Self> {
        let mut sender = Self {
            offer,
            pace,
            dice: Dice::new(pace.seed),
            phase: Phase::Offering,
            parts: Parts { base: 0, held: 0 },
            window: 1,
            sent: 0,
            round: 0,
            retry: Retry::new(pace.time_out),
            due: true,
            most_held: 0,
            stalls: 0,
        };
        sender.go_to(Phase::Offering, true);
        offer.is_sound().then_some(sender)
    }

    /// What is offered.
    #[must_use]
    pub const fn offer(&self) -> &Offer {
        &self.offer
    }

    /// How it ended, once it has.
    #[must_use]
    pub const fn outcome(&self) -> Option<Outcome> {
        if let Phase::Over(outcome) = self.phase { Some(outcome) } else { None }
    }

    /// How far it is, by the receiver's newest map.
    #[must_use]
    pub fn progress(&self) -> Progress {
        match self.phase {
            Phase::Over(Outcome::Delivered) => Progress { held: self.offer.size, size: self.offer.size },
            _ => self.offer.progress(&self.parts),
        }
    }

    /// Offers once more, after [`Outcome::Unknown`] or a refusal that may have passed; does nothing while it is under way or delivered.
    pub fn again(&mut self) {
        if !matches!(self.phase, Phase::Over(Outcome::Delivered)) && self.outcome().is_some() {
            (self.stalls, self.most_held) = (0, 0);
            self.go_to(Phase::Offering, true);
        }
    }

    /// Ends it; the receiver is told once, and again if it asks.
    pub fn stop(&mut self, reason: Reason) {
        if self.outcome().is_none() {
            self.phase = Phase::Over(Outcome::Stopped(reason));
            self.due = true;
        }
    }

    /// Changes over, and starts the time-out of what is asked then.
    fn go_to(&mut self, phase: Phase, due: bool) {
        self.phase = phase;
        self.due = due;
        self.sent = 0;
        self.retry = Retry::spread(self.pace.time_out, &self.pace.policy, &mut self.dice);
        if phase == Phase::Offering {
            self.round = self.round.wrapping_add(1) & 15;
        }
        if phase == Phase::Waiting {
            self.retry.sent(Duration::from_ticks(0));
        }
    }

    /// Time passes.
    pub fn elapse(&mut self, span: Duration) {
        if !matches!(self.phase, Phase::Offering | Phase::Waiting) || self.due {
            return;
        }
        self.retry.elapse(span);
        if self.retry.left().as_ticks() > 0 {
            return;
        }
        match (self.retry.expire(&self.pace.policy, &mut self.dice), self.phase) {
            (Next::Again, _) => self.due = true,
            // The receiver may have restarted without its state.
            (Next::GiveUp, Phase::Waiting) => self.go_to(Phase::Offering, true),
            (Next::GiveUp, _) => self.phase = Phase::Over(Outcome::Unknown),
        }
    }

    /// The time left until something is to be sent; `None`: nothing will be.
    #[must_use]
    pub const fn poll_wake(&self) -> Option<Duration> {
        match self.phase {
            _ if self.due => Some(Duration::from_ticks(0)),
            Phase::Sending => Some(Duration::from_ticks(0)),
            Phase::Offering | Phase::Waiting => Some(self.retry.left()),
            Phase::Over(_) => None,
        }
    }

    /// Takes a body of the TRANSFER extension.
    ///
    /// # Errors
    /// Why it was not taken; nothing has changed then, but that a map of a stopped transfer is answered.
    pub fn handle(&mut self, body: &[u8]) -> Result<(), Refused> {
        let (id, message) = match Message::parse(body)? {
            message @ (Message::Map { id, .. } | Message::Done(id) | Message::Refuse(id, _)) => (id, message),
            _ => return Err(Refused::OtherRole),
        };
        if id != self.offer.id() {
            return Err(Refused::OtherTransfer);
        }
        if let Phase::Over(outcome) = self.phase {
            self.due |= matches!((message, outcome), (Message::Map { .. }, Outcome::Stopped(_)));
            return Err(Refused::Over);
        }
        match message {
            Message::Map { round, map, .. } => self.handle_map(round, map),
            Message::Refuse(_, Reason::NotKnown) => {
                if self.phase == Phase::Offering {
                    return Err(Refused::OldRound);
                }
                if self.leads_on(0) {
                    self.go_to(Phase::Offering, true);
                }
                Ok(())
            }
            Message::Refuse(_, reason) => {
                self.phase = Phase::Over(Outcome::Refused(reason));
                self.due = false;
                Ok(())
            }
            _ => {
                self.phase = Phase::Over(Outcome::Delivered);
                self.due = false;
                Ok(())
            }
        }
    }

    /// Counts answers that show nothing new; gives whether to go on.
    fn leads_on(&mut self, held: u32) -> bool {
        if held > self.most_held {
            (self.most_held, self.stalls) = (held, 0);
        } else {
            self.stalls = self.stalls.saturating_add(1);
        }
        let on = self.stalls < MOST_STALLS;
        if !on {
            self.phase = Phase::Over(Outcome::Unknown);
            self.due = false;
        }
        on
    }

    fn handle_map(&mut self, round: u8, map: Map) -> Result<(), Refused> {
        let asked = matches!(self.phase, Phase::Offering | Phase::Waiting) && round == self.round;
        if !asked && holds(54) {
            return Err(Refused::OldRound);
        }
        let news = Parts { base: map.base, held: map.held };
        let count = self.offer.parts();
        // After an offer any part may be there from an earlier life; later only what was there or has been sent.
        let sent =
            self.sent.checked_ilog2().map_or(0, |top| self.parts.base.saturating_add(top).saturating_add(1));
        let possible = if self.phase == Phase::Waiting { self.parts.end().max(sent) } else { count };
        if news.end() > possible.min(count) {
            return Err(Refused::BadField);
        }
        let told_before = self.phase == Phase::Waiting && self.parts.base == count;
        self.parts = news;
        self.window = map.window;
        if self.leads_on(news.count().saturating_add(1)) && !told_before {
            // If it has all, it checks the whole now.
            let next = if news.base == count { Phase::Waiting } else { Phase::Sending };
            self.go_to(next, false);
        }
        Ok(())
    }

    /// The next part to send, and whether it is the last for now.
    fn next_part(&self) -> Option<(u32, bool)> {
        let open = |off: &u32| {
            let index = self.parts.base.saturating_add(*off);
            let sent = self.sent & 1_u32.checked_shl(*off).unwrap_or(0) != 0;
            index < self.offer.parts() && !sent && !self.parts.has(index)
        };
        let mut offs = (0..u32::from(self.window)).filter(open);
        let off = offs.next()?;
        Some((off, offs.next().is_none()))
    }

    /// Writes what is to be sent next; gives its length, or `None` if there is nothing now. `read` fills a part from this place of the content and says whether it
    /// could; if not, the transfer is stopped. `out` needs [`PART_HEAD`] octets more than a part.
    pub fn poll_transmit(
        &mut self,
        out: &mut [u8],
        read: impl FnOnce(Range<u32>, &mut [u8]) -> bool,
    ) -> Option<usize> {
        let id = self.offer.id();
        let message = match self.phase {
            Phase::Sending => match self.transmit_part(out, read)? {
                Some(len) => return Some(len),
                None => Message::Stop(id, Reason::Unreadable),
            },
            _ if !self.due => return None,
            Phase::Offering => Message::Offer { offer: self.offer, round: self.round },
            Phase::Waiting => Message::Ask { id, round: self.round },
            Phase::Over(Outcome::Stopped(reason)) => Message::Stop(id, reason),
            Phase::Over(_) => return None,
        };
        let len = message.write(out)?;
        self.due = false;
        if self.outcome().is_none() {
            self.retry.sent(Duration::from_ticks(0));
        }
        Some(len)
    }

    /// Some: the part is in `out`, or it could not be read. None: there is none to send.
    fn transmit_part(
        &mut self,
        out: &mut [u8],
        read: impl FnOnce(Range<u32>, &mut [u8]) -> bool,
    ) -> Option<Option<usize>> {
        let (off, last) = self.next_part()?;
        let index = self.parts.base.saturating_add(off);
        let place = self.offer.place(index)?;
        let len = usize::try_from(place.end.saturating_sub(place.start)).ok()?;
        let whole = PART_HEAD.saturating_add(len);
        if out.len() < whole {
            return None;
        }
        let asks = last.then(|| self.round.wrapping_add(1) & 15);
        let head = Message::Part { id: self.offer.id(), index, asks, octets: &[] };
        head.write(out)?;
        if !read(place, out.get_mut(PART_HEAD..whole)?) {
            self.stop(Reason::Unreadable);
            return Some(None);
        }
        self.sent |= 1_u32.checked_shl(off).unwrap_or(0);
        if let Some(round) = asks {
            self.round = round;
            self.phase = Phase::Waiting;
            self.retry.sent(Duration::from_ticks(0));
        }
        Some(Some(whole))
    }
}
