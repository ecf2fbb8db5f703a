//! Opening, ending, keeping hold of the session (section 5.2).

use super::{
    Link,
    event::{EndReason, Terms},
    far::Far,
    line::Line,
    news::Hearing,
    receiver::Found,
    stated::LONGEST_WAIT,
    timers::Timer,
};
use crate::{
    fcs::Fcs,
    frame::{OPEN_LEN, Open, Reject, WIRE_VERSION},
    framing::{Framing, order::Room as _},
    retry::{Dice, Policy, Retry},
    rules::holds,
    seq::Serial,
    session::{Age, Change, Fit, Reply},
    stats::Counter,
    time::Duration,
};

/// The largest random part of the time between two askings, in 256ths.
const A_HALF: u8 = 128;

/// Octets that buffers both ways may hold on a link that does not state a lifetime (W-36).
const BUFFERED: usize = 4096;

/// A peer that takes longer than this to answer is outside what a numberless board can guard against (W-36).
const LONGEST_ANSWER: Duration = Duration::from_ticks(250_000);

impl<F: Framing, C: Fcs, const FRAME: usize, const WINDOW: usize, const QUEUE: usize>
    Link<F, C, FRAME, WINDOW, QUEUE>
{
    /// Keeps quiet for two lifetimes and the peer's longest answer time (W-36).
    fn hush(&mut self, lifetime: u32) {
        self.timers.silence = Self::hush_on(&self.line, lifetime);
        self.owed = None;
        self.receiver.reset();
    }

    pub(super) fn hush_on(line: &Line, stated: u32) -> Timer {
        let lifetime = if stated == 0 { line.time(BUFFERED).as_ticks() } else { stated };
        let quiet = if holds(126) {
            lifetime.saturating_mul(2).saturating_add(LONGEST_ANSWER.as_ticks())
        } else {
            lifetime
        };
        Timer::after(quiet.min(LONGEST_WAIT))
    }

    /// Time of one OPEN frame on the line, µs.
    pub(crate) fn open_frame(line: &Line) -> u32 {
        line.time(F::max_encoded_len(OPEN_LEN.saturating_add(1).saturating_add(C::LEN))).as_ticks()
    }

    /// T_min: the least time between two answers to what anybody can send.
    #[inline(never)]
    pub(super) fn t_min(&self) -> u32 {
        Self::open_frame(&self.line).saturating_mul(2).max(5_000)
    }

    /// The time-out of the first asking (T_open).
    pub(super) fn t_open(&self) -> Duration {
        Self::t_open_on(&self.line, self.lifetime())
    }

    #[inline(never)]
    pub(crate) fn t_open_on(line: &Line, lifetime: u32) -> Duration {
        Duration::from_ticks(if F::ORDERED {
            Self::open_frame(line).saturating_mul(4).max(50_000)
        } else {
            lifetime.saturating_mul(2).max(1_000_000)
        })
    }

    /// The lifetime of a frame on an unordered link, µs; 0 on others.
    pub(super) fn lifetime(&self) -> u32 {
        self.overtaking.get().map_or(0, |books| books.lifetime)
    }

    /// How asking is repeated (T_open).
    pub(super) fn opening_policy(&self) -> Policy {
        Self::policy_of(self.t_open())
    }

    pub(crate) fn policy_of(t_open: Duration) -> Policy {
        let ceiling = if F::ORDERED { 1_000_000 } else { 30_000_000 };
        Policy { tries: None, ceiling: t_open.as_ticks().max(ceiling), spread: A_HALF }
    }

    pub(super) fn fresh_opening(&mut self) -> Retry {
        let lifetime = self.lifetime();
        Self::opening_on(&self.line, lifetime, &mut self.measures.dice)
    }

    #[inline(never)]
    pub(crate) fn opening_on(line: &Line, lifetime: u32, dice: &mut Dice) -> Retry {
        let t_open = Self::t_open_on(line, lifetime);
        Retry::spread(t_open, &Self::policy_of(t_open), dice)
    }

    /// Something valid is heard while down: asking goes back to its first pace.
    pub(super) fn hasten_opening(&mut self) {
        if !self.session.is_up() && !self.far.is_stranger() {
            self.opening = self.fresh_opening().waiting(self.opening.left());
        }
    }

    fn terms(&self) -> Terms {
        Terms {
            version: WIRE_VERSION,
            fingerprint: self.stated.fingerprint,
            identity: self.stated.identity(),
        }
    }

    fn fit(&self, open: &Open) -> Fit {
        let (ours, theirs) = (self.stated.fingerprint, open.fingerprint);
        let same = open.version == WIRE_VERSION && (ours == theirs || ours == 0 || theirs == 0);
        if same { Fit::Fits } else { Fit::Differs }
    }

    #[inline(never)]
    pub(super) fn handle_open(&mut self, open: &Open) {
        if self.closed {
            return;
        }
        let fit = self.fit(open);
        if open.version != WIRE_VERSION {
            self.refuse(Reject::OtherVersion);
        }
        if open.version == WIRE_VERSION {
            self.peer_takes = open.max_payload;
        }
        let age = if self.overtaking.get().is_some_and(|books| books.young > 0) {
            Age::Young
        } else {
            Age::Settled
        };
        let verdict = self.session.hear(open, fit, age);
        match verdict.change {
            Change::Stay => {}
            Change::Heard => self.heard(),
            Change::Opens => self.open_session(open),
            Change::Ends(reason) => self.leave_session(reason),
            Change::Renews(reason) => {
                self.leave_session(reason);
                self.open_session(open);
            }
        }
        if fit == Fit::Differs && holds(30) && !self.session.is_up() {
            self.tell_mismatch(open);
        } else {
            if self.far.is_stranger() {
                self.far = Far::NOBODY;
            }
            self.hasten_opening();
        }
        if verdict.reply.is_some() && !self.is_hushed() {
            self.owed = verdict.reply;
        }
    }

    /// Tells both sides' values once, and asks at the slowest pace from now on (W-30).
    fn tell_mismatch(&mut self, open: &Open) {
        let theirs = Far::stranger(open);
        if self.far != theirs {
            self.far = theirs;
            self.news.mismatch = true;
        }
        let policy = self.opening_policy();
        self.opening.slow_down(&policy);
        if self.owed.is_some_and(Reply::asks) {
            self.owed = None;
        }
        self.opening.sent(Duration::from_ticks(0));
    }

    pub(super) fn our_terms(&self) -> Terms {
        self.terms()
    }

    fn open_session(&mut self, open: &Open) {
        let window = open.window.min(u8::try_from(WINDOW).unwrap_or(8));
        let max_payload = open.max_payload.min(u16::try_from(Self::MAX_PAYLOAD).unwrap_or(u16::MAX));
        self.far = Far::peer(open, window, max_payload);
        let largest_frame = Self::largest_frame(&self.line, usize::from(max_payload));
        self.measures.reset_estimate(largest_frame, Self::CEILING);
        self.inbox.clear();
        self.set_points = Default::default();
        self.notices = Serial::default();
        self.sent.set_point = Serial::default();
        self.sent.notice = Serial::default();
        self.quiet = false;
        self.news.opened = true;
        self.measures.statistics.add(Counter::Sessions, 1);
        if let Some(books) = self.overtaking.get_mut() {
            books.forget_set_points();
            books.young = books.lifetime;
        }
        self.owed = None;
        self.opening = Retry::new(Duration::from_ticks(0));
        self.keep_alive();
        self.restart_silence();
    }

    /// Forgets the session that has ended and tells so; the link is down.
    pub(super) fn leave_session(&mut self, reason: EndReason) {
        self.far = Far::NOBODY;
        self.quiet = false;
        self.news.opened = false;
        self.news.hearing = None;
        self.news.ended = Some(reason);
        if matches!(self.receiver.found, Some(Found::Message { .. })) {
            self.receiver.found = None;
        }
        self.inbox.clear();
        let dropped = self.outbox.end(reason);
        self.measures.statistics.add(Counter::NotSent, dropped);
        self.timers.leave_session();
        if let Some(books) = self.overtaking.get_mut() {
            books.young = 0;
        }
        self.owed = None;
        self.opening = self.fresh_opening();
        if Self::is_unordered() && self.session.is_numberless() && holds(36) {
            self.hush(self.lifetime());
        }
    }

    /// Ends the session from this side, and asks for the next one.
    pub(super) fn end_session(&mut self, reason: EndReason) {
        self.session.end();
        self.leave_session(reason);
        if !self.is_hushed() {
            self.owed = Some(Reply::Ask);
        }
    }

    /// A frame is sent: the keep-alive starts anew (W-34).
    #[inline(never)]
    pub(super) fn keep_alive(&mut self) {
        let period = self.stated.keep_alive;
        let kept = self.session.is_up() && period > 0 && holds(34);
        self.timers.keep_alive = if kept { Timer::after(period) } else { Timer::OFF };
    }

    /// How long the peer may be silent, µs: what it promises and one time-out. 0: for ever.
    fn longest_silence(&self) -> u32 {
        match self.far.silence().as_ticks() {
            0 => 0,
            // Together they are less than a minute.
            promised => promised.wrapping_add(self.measures.time_out().as_ticks()),
        }
    }

    #[inline(always)]
    fn restart_silence(&mut self) {
        let longest = self.longest_silence();
        self.timers.silence = if longest == 0 { Timer::OFF } else { Timer::after(longest) };
    }

    /// Time until the peer is called quiet: half of what it promises after it was last heard.
    pub(super) fn quiet_wait(&self) -> Option<u32> {
        let left = self.timers.silence.left().filter(|_| !self.quiet)?;
        let half = self.far.silence().as_ticks() / 2;
        Some(left.saturating_sub(self.longest_silence().saturating_sub(half)))
    }

    /// A numberless board keeps quiet (W-36).
    pub(super) const fn is_hushed(&self) -> bool {
        !self.session.is_up() && !self.timers.silence.is_off()
    }

    /// The peer is heard in this session (W-31).
    #[inline(never)]
    pub(super) fn heard(&mut self) {
        if !holds(31) {
            return;
        }
        self.restart_silence();
        if self.quiet {
            self.quiet = false;
            self.news.hearing = match self.news.hearing {
                Some(Hearing::Quiet) => None,
                _ => Some(Hearing::Resumed),
            };
        }
    }

    /// The longest silence that this side promises, in units of 100 ms; 0: none.
    fn promise(&self) -> u8 {
        // By sums: a product that saturates would be one of 64 bits on a board.
        let one = self.stated.keep_alive;
        let three = one.saturating_add(one).saturating_add(one);
        u8::try_from(three.div_ceil(100_000)).unwrap_or(0)
    }

    /// The body of an OPEN.
    pub(super) fn open_body(&self, reply: Reply) -> [u8; OPEN_LEN] {
        let (mine, echo) = self.session.numbers(reply);
        let open = Open {
            version: WIRE_VERSION,
            ask: reply.asks(),
            numberless: self.session.is_numberless(),
            cause: self.stated.cause,
            mine,
            echo,
            window: u8::try_from(WINDOW).unwrap_or(8),
            max_payload: u16::try_from(Self::MAX_PAYLOAD).unwrap_or(u16::MAX),
            fingerprint: self.stated.fingerprint,
            silence: self.promise(),
            identity: self.stated.identity(),
        };
        open.octets()
    }
}
