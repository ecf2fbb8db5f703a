//! The receiving side: takes parts into the caller's memory, answers with maps.

use super::{Id, MAX_WINDOW, Map, Message, Offer, Progress, Reason, Refused, parts::Parts, saved};
use crate::{rules::holds, time::Duration};

/// What a receiver takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Limits {
    /// The largest content, octets: no more than the memory that you have for it.
    pub largest: u32,
    /// The longest part, octets.
    pub part: u16,
    /// Parts under way at once, 1..=[`MAX_WINDOW`]; others are cut to that.
    pub window: u8,
    /// After so long without a part a transfer gives way to another offer; it goes on if it is offered again first.
    pub patience: Duration,
}

/// Where a receiver is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum State {
    /// Nothing offered.
    Idle,
    /// Offered; the program has neither accepted nor refused.
    Offered,
    /// Taking parts.
    Taking,
    /// All parts stored; the program checks the whole.
    Checking,
    /// Whole and checked.
    Done,
    /// Ended early, by either side.
    Over(Reason),
}

/// What the program must do with what came.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Input<'a> {
    /// Nothing; an answer may be owed.
    Nothing,
    /// [`accept`](Receiver::accept) or [`refuse`](Receiver::refuse) this offer.
    Offered(Offer),
    /// Store these octets at this place of the content, then call [`stored`](Receiver::stored) before the next `poll_transmit`; or
    /// [`refuse`](Receiver::refuse) with [`Reason::Storage`].
    Store {
        /// Which part.
        index: u32,
        /// Its place in the content, octets from the start.
        at: u32,
        /// Its content.
        octets: &'a [u8],
    },
    /// The sender has ended the transfer.
    Stopped(Reason),
}

/// The one answer that is owed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
enum Owed {
    Map { round: u8 },
    Done(Id),
    Refuse(Id, Reason),
}

/// The receiving side of one transfer at a time. It holds no content: some 80 octets, whatever is offered.
///
/// # Grammar
/// [`handle`](Self::handle) a body; do what its [`Input`] says; [`poll_transmit`](Self::poll_transmit). Once [`stored`](Self::stored) says that it was the last part, run a
/// [`Whole`](super::Whole) over the stored content and hand its CRC to [`checked`](Self::checked). To survive a restart, keep [`save`](Self::save) with the
/// content, written after the part that it counts.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Receiver {
    limits: Limits,
    pub(super) state: State,
    pub(super) offer: Option<Offer>,
    pub(super) parts: Parts,
    /// The last one that was whole: its sender may still ask.
    pub(super) finished: Option<Offer>,
    round: u8,
    patience_left: Duration,
    owed: Option<Owed>,
}

impl Receiver {
    /// Nothing offered yet.
    #[must_use]
    pub const fn new(limits: Limits) -> Self {
        Self {
            limits,
            state: State::Idle,
            offer: None,
            parts: Parts { base: 0, held: 0 },
            finished: None,
            round: 0,
            patience_left: limits.patience,
            owed: None,
        }
    }

    /// The state to keep over a restart.
    #[must_use]
    pub fn save(&self) -> [u8; super::SAVED_LEN] {
        saved::write(self)
    }

    /// A receiver that goes on from a saved state; `None` if it is damaged, of another version, or beyond `limits`.
    #[must_use]
    pub fn restore(limits: Limits, saved: &[u8]) -> Option<Self> {
        saved::read(Self::new(limits), saved).filter(|receiver| match receiver.offer {
            Some(offer) => offer.size <= limits.largest && offer.part <= limits.part,
            None => true,
        })
    }

    /// Where it is.
    #[must_use]
    pub const fn state(&self) -> State {
        self.state
    }

    /// The transfer that is under way, or was last.
    #[must_use]
    pub const fn offer(&self) -> Option<&Offer> {
        self.offer.as_ref()
    }

    /// The last transfer that was whole; its sender is told so again if it asks.
    #[must_use]
    pub const fn finished(&self) -> Option<&Offer> {
        self.finished.as_ref()
    }

    /// How far the transfer is.
    #[must_use]
    pub fn progress(&self) -> Option<Progress> {
        Some(self.offer?.progress(&self.parts))
    }

    /// Time passes.
    pub fn elapse(&mut self, span: Duration) {
        let left = self.patience_left.as_ticks().saturating_sub(span.as_ticks());
        self.patience_left = Duration::from_ticks(left);
    }

    const fn is_busy(&self) -> bool {
        matches!(self.state, State::Offered | State::Taking | State::Checking)
            && self.patience_left.as_ticks() > 0
    }

    fn window(&self) -> u8 {
        self.limits.window.clamp(1, MAX_WINDOW)
    }

    /// Takes a body of the TRANSFER extension. Every body makes at most one answer be owed.
    ///
    /// # Errors
    /// Why it was not taken. Nothing is then to be done, though an answer may be owed.
    pub fn handle<'a>(&mut self, body: &'a [u8]) -> Result<Input<'a>, Refused> {
        match Message::parse(body)? {
            Message::Offer { offer, round } => Ok(self.handle_offer(offer, round)),
            Message::Part { id, index, asks, octets } => {
                self.check_transfer(id)?;
                if let Some(round) = asks {
                    self.owed = Some(Owed::Map { round });
                }
                self.handle_part(index, octets)
            }
            Message::Ask { id, round } => {
                self.check_transfer(id)?;
                self.owed = Some(Owed::Map { round });
                Ok(Input::Nothing)
            }
            Message::Stop(id, reason) => {
                let ours = self.offer.is_some_and(|offer| offer.id() == id);
                if !ours {
                    return Err(Refused::OtherTransfer);
                }
                if matches!(self.state, State::Done | State::Over(_)) {
                    return Err(Refused::Over);
                }
                self.end(reason);
                Ok(Input::Stopped(reason))
            }
            Message::Map { .. } | Message::Done(_) | Message::Refuse(..) => Err(Refused::OtherRole),
        }
    }

    fn handle_offer(&mut self, offer: Offer, round: u8) -> Input<'static> {
        let id = offer.id();
        if self.finished == Some(offer) {
            self.owed = Some(Owed::Done(id));
            return Input::Nothing;
        }
        if self.offer == Some(offer) && matches!(self.state, State::Offered | State::Taking | State::Checking)
        {
            self.round = round;
            self.patience_left = self.limits.patience;
            if self.state != State::Offered {
                self.owed = Some(Owed::Map { round });
            }
            return Input::Nothing;
        }
        let refused = if self.is_busy() && holds(57) {
            Some(Reason::Busy)
        } else if offer.size > self.limits.largest {
            Some(Reason::TooLarge)
        } else if offer.part > self.limits.part {
            Some(Reason::PartTooLong)
        } else {
            None
        };
        if let Some(reason) = refused {
            self.owed = Some(Owed::Refuse(id, reason));
            return Input::Nothing;
        }
        self.offer = Some(offer);
        self.state = State::Offered;
        self.parts = Parts::default();
        self.round = round;
        self.patience_left = self.limits.patience;
        self.owed = None;
        Input::Offered(offer)
    }

    /// Lets through what belongs to the transfer that is being taken; owes the sender of anything else the reason (W-56).
    fn check_transfer(&mut self, id: Id) -> Result<(), Refused> {
        let is = |offer: Option<Offer>| offer.is_some_and(|offer| offer.id() == id);
        let (owed, why) = match self.state {
            State::Taking | State::Checking if is(self.offer) => return Ok(()),
            State::Offered if is(self.offer) => return Err(Refused::OutsideWindow),
            State::Over(reason) if is(self.offer) => (Owed::Refuse(id, reason), Refused::Over),
            _ if is(self.finished) => (Owed::Done(id), Refused::Over),
            _ => (Owed::Refuse(id, Reason::NotKnown), Refused::OtherTransfer),
        };
        if holds(56) {
            self.owed = Some(owed);
        }
        Err(why)
    }

    fn handle_part<'a>(&self, index: u32, octets: &'a [u8]) -> Result<Input<'a>, Refused> {
        let place = self.offer.and_then(|offer| offer.place(index)).ok_or(Refused::BadPart)?;
        if usize::try_from(place.end.saturating_sub(place.start)) != Ok(octets.len()) && holds(53) {
            return Err(Refused::BadPart);
        }
        if self.parts.has(index) {
            return Err(Refused::Repeat);
        }
        if index.saturating_sub(self.parts.base) >= u32::from(self.window()) {
            return Err(Refused::OutsideWindow);
        }
        Ok(Input::Store { index, at: place.start, octets })
    }

    /// The program takes the offer.
    pub const fn accept(&mut self) {
        if matches!(self.state, State::Offered) {
            self.state = State::Taking;
            self.owed = Some(Owed::Map { round: self.round });
        }
    }

    /// The program ends the transfer, or does not take it.
    pub fn refuse(&mut self, reason: Reason) {
        if let Some(offer) = self.offer.filter(|_| !matches!(self.state, State::Done | State::Over(_))) {
            self.end(reason);
            self.owed = Some(Owed::Refuse(offer.id(), reason));
        }
    }

    fn end(&mut self, reason: Reason) {
        self.state = State::Over(reason);
        self.parts = Parts::default();
        self.owed = None;
    }

    /// Part `index` is stored, so that it survives what [`save`](Self::save) survives. Gives whether all are now.
    pub fn stored(&mut self, index: u32) -> bool {
        let Some(offer) = self.offer.filter(|_| self.state == State::Taking) else {
            return false;
        };
        let in_window = index.checked_sub(self.parts.base).is_some_and(|off| off < u32::from(self.window()));
        if index < offer.parts() && in_window {
            self.parts.take(index);
            self.patience_left = self.limits.patience;
        }
        if self.parts.base == offer.parts() {
            self.state = State::Checking;
        }
        self.state == State::Checking
    }

    /// The CRC over the stored content. Gives whether it is that of the offer; if not, the transfer is over and its sender is told (W-55).
    pub fn checked(&mut self, crc: u32) -> bool {
        let Some(offer) = self.offer.filter(|_| self.state == State::Checking) else {
            return false;
        };
        if crc != offer.crc && holds(55) {
            self.refuse(Reason::Damaged);
            return false;
        }
        self.state = State::Done;
        self.finished = Some(offer);
        self.owed = Some(Owed::Done(offer.id()));
        true
    }

    /// Writes the answer that is owed; gives its length. `out` needs [`MAP_LEN`](super::MAP_LEN) octets; the answer stays owed if it is shorter.
    pub fn poll_transmit(&mut self, out: &mut [u8]) -> Option<usize> {
        let answer = match self.owed? {
            Owed::Map { round } => {
                let map = Map { base: self.parts.base, held: self.parts.held, window: self.window() };
                Message::Map { id: self.offer?.id(), round, map }
            }
            Owed::Done(id) => Message::Done(id),
            Owed::Refuse(id, reason) => Message::Refuse(id, reason),
        };
        let len = answer.write(out)?;
        self.owed = None;
        Some(len)
    }
}
