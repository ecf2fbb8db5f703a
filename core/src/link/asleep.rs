//! A session that outlives deep sleep: what is kept, and going on with it.

use super::{Link, far::Far, timers::Timer};
use crate::{
    fcs::Fcs,
    framing::Framing,
    retry::Retry,
    seq::Serial,
    session::{Order, Session},
    star::Asleep,
    time::{Duration, Instant},
};

/// Why a link cannot keep its session over a sleep. It goes on as it was.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum StaysAwake {
    /// No session is open, or a leaf still asks the hub whether its address holds: there is nothing to keep.
    NotOpen,
    /// It promises its peer signs of life ([`Config::keep_alive`](super::Config::keep_alive) is not zero): the peer would end the session (W-61).
    KeepAlive,
    /// An event waits: drain [`poll_event`](Link::poll_event), or what it tells is lost.
    Untold,
    /// A later number is in and an earlier one is missing: the peer sends it again, so wait for it.
    Missing,
    /// The peer takes a smaller window or payload than this link gives, and the saved octets have no room for that.
    Smaller,
}

impl core::fmt::Display for StaysAwake {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(match self {
            Self::NotOpen => "nothing to keep: no session is open",
            Self::KeepAlive => "not kept: the peer was promised signs of life, and would end the session",
            Self::Untold => "not kept: an event waits to be polled",
            Self::Missing => "not kept: an earlier message is still missing",
            Self::Smaller => "not kept: the peer takes a smaller window or payload than this board gives",
        })
    }
}

impl core::error::Error for StaysAwake {}

/// Why a saved session cannot be gone on with: make the link anew, and open.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum NotResumed {
    /// On an unordered link copies of frames from before the sleep may still be under way: it must have lasted a lifetime (L) at least.
    TooSoon,
    /// It was saved by a link with a larger window.
    Window,
    /// It was saved by a leaf at another address, or by a leaf where a link resumes, or the other way round.
    Address,
}

impl core::fmt::Display for NotResumed {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(match self {
            Self::TooSoon => "not resumed: the sleep was shorter than the lifetime of a frame",
            Self::Window => "not resumed: saved by a link with a larger window",
            Self::Address => "not resumed: saved for another address",
        })
    }
}

impl core::error::Error for NotResumed {}

impl<F: Framing, C: Fcs, const FRAME: usize, const WINDOW: usize, const QUEUE: usize>
    Link<F, C, FRAME, WINDOW, QUEUE>
{
    /// Falls asleep: gives what must be kept for [`resume`](Self::resume), and stays down and silent from now on, as after [`close`](Self::close). The peer is told nothing, and
    /// its session goes on.
    ///
    /// Drain [`poll_event`](Self::poll_event) once more afterwards: items that were not sent are told as *not sent*, and those that were sent and not confirmed as *unknown*.
    /// Their numbers are taken out of the way by the next life, as voids (W-37).
    ///
    /// # Errors
    /// Why the session cannot be kept; nothing has changed then.
    pub fn fall_asleep(&mut self, now: Instant) -> Result<Asleep, StaysAwake> {
        self.advance(now);
        let asleep = self.asleep()?;
        self.close(now);
        Ok(asleep)
    }

    fn asleep(&self) -> Result<Asleep, StaysAwake> {
        let Some(peer) = self.peer() else { return Err(StaysAwake::NotOpen) };
        if self.stated.keep_alive > 0 {
            return Err(StaysAwake::KeepAlive);
        }
        if self.has_event() {
            return Err(StaysAwake::Untold);
        }
        let acknowledged = self.inbox.ack();
        if acknowledged.held.is_some() {
            return Err(StaysAwake::Missing);
        }
        if usize::from(peer.window) < WINDOW || usize::from(peer.max_payload) < Self::MAX_PAYLOAD {
            return Err(StaysAwake::Smaller);
        }
        let (base, unconfirmed) = self.outbox.unconfirmed();
        let (mine, theirs) = self.session.own_and_theirs();
        Ok(Asleep {
            mine,
            theirs,
            base: base.get(),
            unconfirmed,
            next: acknowledged.next,
            address: 0,
            set_point_out: self.sent.set_point.get(),
            set_point_in: self.set_points.expected().get(),
        })
    }

    /// Goes on, after `slept`, in the session that [`fall_asleep`](Self::fall_asleep) kept: no opening is needed. `slept` is the time that has passed at least; zero if it is not known.
    ///
    /// Framing and configuration are those of before, the cause apart; [`Config::own`](super::Config::own) only says whether the board is numberless, since its own number is kept. What is
    /// made anew: the estimate of the round trip, statistics, tickets, the numbers of notices (the peer may count up to 255 of them as lost), and what the peer said of itself:
    /// [`peer`](Self::peer) gives its identity and fingerprint as 0, and no promise of its own is awaited. No [`Event::Opened`](super::Event::Opened) is told. If the peer has left the session
    /// meanwhile, the first frame shows it and a session opens as after any restart.
    ///
    /// What was saved is good for **one** life. A board that resumes twice from the same octets sends numbers that its peer knows, and what goes out under them is taken for a repeat: called
    /// delivered, and lost. Take them with [`Asleep::take`], which blanks them, and on storage that outlives a reset write the blank before the first frame goes out.
    ///
    /// # Errors
    /// Why it cannot: then make a [`new`](Self::new) link, which opens.
    pub fn resume(
        framing: F,
        config: super::Config,
        asleep: &Asleep,
        slept: Duration,
        now: Instant,
    ) -> Result<Self, NotResumed> {
        if asleep.address != 0 {
            return Err(NotResumed::Address);
        }
        let mut link = Self::new(framing, config, now);
        link.wake_up(asleep, slept)?;
        Ok(link)
    }

    /// A link that was just made goes on in a session.
    pub(crate) fn wake_up(&mut self, asleep: &Asleep, slept: Duration) -> Result<(), NotResumed> {
        if usize::from(asleep.unconfirmed) > WINDOW {
            return Err(NotResumed::Window);
        }
        if Self::is_unordered() && slept.as_ticks() < self.lifetime() {
            return Err(NotResumed::TooSoon);
        }
        let order = if F::ORDERED { Order::Ordered } else { Order::Unordered };
        let numberless = self.session.is_numberless();
        self.session = Session::resumed(asleep.mine, asleep.theirs, numberless, order);
        let max_payload = u16::try_from(Self::MAX_PAYLOAD).unwrap_or(u16::MAX);
        self.far = Far::known(u8::try_from(WINDOW).unwrap_or(8), max_payload);
        self.inbox.resume(Serial::new(asleep.next));
        self.set_points.resume(Serial::new(asleep.set_point_in));
        self.sent.set_point = Serial::new(asleep.set_point_out);
        self.outbox.resume(Serial::new(asleep.base), asleep.unconfirmed, self.measures.time_out());
        self.owed = None;
        self.opening = Retry::new(Duration::from_ticks(0));
        self.timers.silence = Timer::OFF;
        Ok(())
    }
}
