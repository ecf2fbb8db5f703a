//! Opening, ending, keeping hold of the session (section 5.2).

use super::{
    Link,
    event::{EndReason, Peer, Terms},
    news::Hearing,
    receiver::Found,
};
use crate::{
    fcs::Fcs,
    frame::{OPEN_LEN, Open, Reject, WIRE_VERSION},
    framing::Framing,
    retry::{Policy, Retry},
    rtt::Estimator,
    rules::holds,
    seq::Serial,
    session::{Age, Change, Fit, Reply},
    stats::Counter,
    time::Duration,
};

/// Octets that buffers both ways may hold on a link that does not state a lifetime (W-36).
const BUFFERED: usize = 4096;

/// A peer that takes longer than this to answer is outside what a numberless board can guard against (W-36).
const LONGEST_ANSWER: Duration = Duration::from_ticks(250_000);

impl<F: Framing, C: Fcs, const FRAME: usize, const WINDOW: usize, const QUEUE: usize>
    Link<F, C, FRAME, WINDOW, QUEUE>
{
    /// Starts to open: at once, or after the quiet time of a numberless board.
    pub(super) fn begin(&mut self) {
        self.opening = self.fresh_opening();
        if self.session.is_numberless() && holds(36) {
            self.hush();
        } else {
            self.owed.open = Some(self.session.asking());
        }
    }

    /// Keeps quiet for two lifetimes and the peer's longest answer time (W-36).
    fn hush(&mut self) {
        let stated = self.config.lifetime.as_ticks();
        let lifetime = if stated == 0 { self.line.time(BUFFERED).as_ticks() } else { stated };
        let quiet = lifetime.saturating_mul(2).saturating_add(LONGEST_ANSWER.as_ticks());
        self.timers.hush = Some(quiet);
        self.owed.open = None;
        self.receiver.reset();
    }

    /// Time of `count` OPEN frames on the line.
    fn open_frames(&self, count: u32) -> Duration {
        let frame = F::max_encoded_len(OPEN_LEN.saturating_add(1).saturating_add(C::LEN));
        Duration::from_ticks(self.line.time(frame).as_ticks().saturating_mul(count))
    }

    /// T_min: the least time between two answers to what anybody can send.
    pub(super) fn t_min(&self) -> u32 {
        self.open_frames(2).as_ticks().max(5_000)
    }

    /// The time-out of the first asking (T_open).
    pub(super) fn t_open(&self) -> Duration {
        if F::ORDERED {
            self.open_frames(4).max(Duration::from_ticks(50_000))
        } else {
            self.two_lifetimes().max(Duration::from_ticks(1_000_000))
        }
    }

    /// How asking is repeated (T_open).
    pub(super) fn opening_policy(&self) -> Policy {
        let ceiling = if F::ORDERED { 1_000_000 } else { 30_000_000 };
        Policy { tries: None, ceiling: self.t_open().as_ticks().max(ceiling), spread: 50 }
    }

    pub(super) fn fresh_opening(&mut self) -> Retry {
        let policy = self.opening_policy();
        Retry::spread(self.t_open(), &policy, &mut self.measures.dice)
    }

    /// Something valid is heard while down: asking goes back to its first pace.
    pub(super) fn hasten_opening(&mut self) {
        if !self.session.is_up() && self.news.told.is_none() {
            self.opening = self.fresh_opening().waiting(self.opening.left());
        }
    }

    fn terms(&self) -> Terms {
        Terms { version: WIRE_VERSION, fingerprint: self.config.fingerprint, identity: self.config.identity }
    }

    fn fit(&self, open: &Open) -> Fit {
        let (ours, theirs) = (self.config.fingerprint, open.fingerprint);
        let same = open.version == WIRE_VERSION && (ours == theirs || ours == 0 || theirs == 0);
        if same { Fit::Fits } else { Fit::Differs }
    }

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
        let age = if self.timers.young > 0 { Age::Young } else { Age::Settled };
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
            self.news.told = None;
            self.hasten_opening();
        }
        if verdict.reply.is_some() && self.timers.hush.is_none() {
            self.owed.open = verdict.reply;
        }
    }

    /// Tells both sides' values once, and asks at the slowest pace from now on (W-30).
    fn tell_mismatch(&mut self, open: &Open) {
        let (fingerprint, identity) =
            if open.version == WIRE_VERSION { (open.fingerprint, open.identity) } else { (0, 0) };
        let theirs = Terms { version: open.version, fingerprint, identity };
        if self.news.told != Some(theirs) {
            self.news.told = Some(theirs);
            self.news.mismatch = Some(theirs);
        }
        let policy = self.opening_policy();
        self.opening.slow_down(&policy);
        if self.owed.open.is_some_and(|reply| reply.ask) {
            self.owed.open = None;
        }
        self.opening.sent(Duration::from_ticks(0));
    }

    pub(super) fn our_terms(&self) -> Terms {
        self.terms()
    }

    fn open_session(&mut self, open: &Open) {
        let window = open.window.min(u8::try_from(WINDOW).unwrap_or(8));
        let max_payload = open.max_payload.min(u16::try_from(Self::MAX_PAYLOAD).unwrap_or(u16::MAX));
        self.peer = Some(Peer {
            identity: open.identity,
            fingerprint: open.fingerprint,
            cause: open.cause,
            numberless: open.numberless,
            window,
            max_payload,
            silence: Duration::from_ticks(u32::from(open.silence).saturating_mul(100_000)),
            session: self.session.number(),
        });
        self.measures.reset_estimate(Estimator::new(Self::bounds(&self.line, usize::from(max_payload))));
        self.inbox.clear();
        self.set_points = Default::default();
        self.notices = Serial::default();
        self.sent.set_point = Serial::default();
        self.sent.notice = Serial::default();
        self.quiet = false;
        self.news.opened = Some(());
        self.measures.statistics.add(Counter::Sessions, 1);
        self.timers.young = self.config.lifetime.as_ticks();
        self.owed.open = None;
        self.opening = Retry::new(Duration::from_ticks(0));
        self.keep_alive();
        self.restart_silence();
    }

    /// Forgets the session that has ended and tells so; the link is down.
    pub(super) fn leave_session(&mut self, reason: EndReason) {
        self.peer = None;
        self.quiet = false;
        self.news.opened = None;
        self.news.hearing = None;
        self.news.ended = Some(reason);
        if matches!(self.receiver.found, Some(Found::Message(..))) {
            self.receiver.found = None;
        }
        self.inbox.clear();
        let dropped = self.outbox.end(reason);
        self.measures.statistics.add(Counter::NotSent, dropped);
        self.timers.leave_session();
        self.owed.open = None;
        self.opening = self.fresh_opening();
        if Self::is_unordered() && self.session.is_numberless() && holds(36) {
            self.hush();
        }
    }

    /// Ends the session from this side, and asks for the next one.
    pub(super) fn end_session(&mut self, reason: EndReason) {
        self.session.end();
        self.leave_session(reason);
        if self.timers.hush.is_none() {
            self.owed.open = Some(self.session.asking());
        }
    }

    /// A frame is sent: the keep-alive starts anew (W-34).
    pub(super) fn keep_alive(&mut self) {
        let period = self.config.keep_alive.as_ticks();
        self.timers.keep_alive = (self.session.is_up() && period > 0 && holds(34)).then_some(period);
    }

    fn restart_silence(&mut self) {
        let promised = self.peer.map_or(0, |peer| peer.silence.as_ticks());
        let time_out = self.measures.estimator.time_out().as_ticks();
        self.timers.quiet = (promised > 0).then_some(promised / 2);
        self.timers.silence = (promised > 0).then_some(promised.saturating_add(time_out));
    }

    /// The peer is heard in this session (W-31).
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
        let three = self.config.keep_alive.as_ticks().saturating_mul(3);
        u8::try_from(three.div_ceil(100_000)).unwrap_or(0)
    }

    /// The body of an OPEN.
    pub(super) fn open_body(&self, reply: Reply) -> [u8; OPEN_LEN] {
        let open = Open {
            version: WIRE_VERSION,
            ask: reply.ask,
            numberless: self.session.is_numberless(),
            cause: self.config.cause,
            mine: reply.mine,
            echo: reply.echo,
            window: u8::try_from(WINDOW).unwrap_or(8),
            max_payload: u16::try_from(Self::MAX_PAYLOAD).unwrap_or(u16::MAX),
            fingerprint: self.config.fingerprint,
            silence: self.promise(),
            identity: self.config.identity,
        };
        open.octets()
    }
}
