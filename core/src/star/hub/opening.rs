//! Opening, ending, keeping hold of the session with one leaf (section 5.2). What an OPEN means, [`Session`](crate::session::Session) says.

use super::{
    common::{Common, Twin},
    epochs::Paced,
    flags::Flag,
    item::Stage,
    lane::{Lane, Owed},
    pool::NONE,
};
use crate::{
    fcs::{Fcs, Fcs16},
    frame::{OPEN_LEN, Open, Reject, WIRE_VERSION},
    framing::{Framing, order::Room as _},
    link::{EndReason, Outcome, Peer, Terms, news::Hearing, set_points::SetPoints},
    retry::Retry,
    rtt::Estimator,
    seq::Serial,
    session::{Age, Change, Fit, Reply},
    stats::Counter,
    time::Duration,
    window::{ReceiveWindow, SendWindow},
};

impl<F: Framing, C: Fcs, const POOL: usize, const FRAME: usize> Common<F, C, POOL, FRAME> {
    pub(super) fn terms(&self) -> Terms {
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
    pub(super) fn handle_open(&mut self, lane: &mut Lane, from: u8, open: &Open) {
        let fit = self.fit(open);
        if open.version != WIRE_VERSION {
            self.refuse(Reject::OtherVersion);
        }
        let age = if lane.paced.is_young() { Age::Young } else { Age::Settled };
        let verdict = lane.session.hear(open, fit, age);
        match verdict.change {
            Change::Stay => {}
            Change::Heard => self.heard(lane, from),
            Change::Opens => self.open_session(lane, from, open),
            Change::Ends(reason) => self.leave_session(lane, from, reason),
            Change::Renews(reason) => {
                self.leave_session(lane, from, reason);
                self.open_session(lane, from, open);
            }
        }
        if fit == Fit::Differs && !lane.session.is_up() {
            self.tell_mismatch(lane, open);
        } else {
            lane.set(Flag::Stranger, false);
            self.hasten_opening(lane);
        }
        if let Some(reply) = verdict.reply {
            lane.owed = Owed::of(reply);
            if let Reply::Challenge(stranger) = reply {
                self.challenges.push(from, stranger);
            }
        }
    }

    /// Tells both sides' values once, and asks at the slowest pace from now on (W-30).
    fn tell_mismatch(&mut self, lane: &mut Lane, open: &Open) {
        let mut theirs = Terms { version: open.version, fingerprint: 0, identity: 0 };
        if open.version == WIRE_VERSION {
            (theirs.fingerprint, theirs.identity) = (open.fingerprint, open.identity);
        }
        let digest = digest(&theirs);
        if !lane.has(Flag::Stranger) || lane.silence != digest {
            lane.set(Flag::Stranger, true);
            lane.silence = digest;
            self.news.mismatch(theirs);
        }
        lane.retry.slow_down(&self.opening_policy());
        if lane.owed == Owed::Ask {
            lane.owed = Owed::Nothing;
        }
        lane.retry.sent(Duration::from_ticks(0));
    }

    fn open_session(&mut self, lane: &mut Lane, from: u8, open: &Open) {
        let ours = u16::try_from(Twin::<F, C, FRAME>::MAX_PAYLOAD).unwrap_or(u16::MAX);
        lane.flags.leave_session();
        lane.max_payload = open.max_payload.min(ours);
        lane.promised = open.silence;
        lane.estimator = Estimator::new();
        lane.out = SendWindow::new();
        lane.into = ReceiveWindow::default();
        lane.set_point_out = Serial::default();
        lane.notice_out = Serial::default();
        lane.set_points = SetPoints::default();
        lane.notices = Serial::default();
        lane.owed = Owed::Nothing;
        lane.retry = Retry::new(Duration::from_ticks(0));
        lane.paced.open(&self.epochs);
        self.forget_set_points(from);
        self.keep_alive(lane);
        self.restart_silence(lane);
        self.heard = from;
        self.statistics.add(Counter::Sessions, 1);
        self.news.opened(Peer {
            identity: open.identity,
            fingerprint: open.fingerprint,
            cause: open.cause,
            numberless: open.numberless,
            window: 1,
            max_payload: lane.max_payload,
            silence: lane.promise(),
            session: lane.session.number(),
        });
    }

    fn forget_set_points(&mut self, leaf: u8) {
        if let Some(lasts) = self.lasts.get_mut() {
            lasts.forget(leaf);
        }
    }

    /// Forgets the session that has ended and tells so; the lane is down.
    pub(super) fn leave_session(&mut self, lane: &mut Lane, from: u8, reason: EndReason) {
        let flying = lane.has(Flag::Flying) && !lane.has(Flag::Void);
        lane.flags.leave_session();
        lane.paced = Paced::default();
        lane.paced.look(&self.epochs);
        lane.owed = Owed::Nothing;
        lane.retry = self.fresh_opening();
        self.highest = later(self.highest, lane.session.mine());
        self.forget_set_points(from);
        self.drop_items(lane, flying, reason);
        self.news.ended(reason);
    }

    /// Every message that waits or is under way gets its outcome (W-41); those of unconfirmed classes are counted.
    fn drop_items(&mut self, lane: &mut Lane, flying: bool, reason: EndReason) {
        for _ in 0..POOL {
            let place = lane.first;
            let Some(item) = self.pool.item(place) else { break };
            if !item.class.is_confirmed() {
                self.pool.remove(&mut lane.first, place);
                self.statistics.add(Counter::NotSent, 1);
                continue;
            }
            let was_sent = flying && item.stage == Stage::Flying;
            let outcome = if was_sent { Outcome::Unknown } else { Outcome::NotSent(reason) };
            self.pool.finish(&mut lane.first, place, outcome);
        }
        lane.first = NONE;
    }

    /// Ends the session from this side.
    pub(super) fn end_session(&mut self, lane: &mut Lane, from: u8, reason: EndReason) {
        lane.session.end();
        self.leave_session(lane, from, reason);
        if !lane.has(Flag::Waits) {
            lane.owed = Owed::Ask;
        }
    }

    /// The leaf is heard in this session (W-31).
    pub(super) fn heard(&mut self, lane: &mut Lane, from: u8) {
        self.heard = from;
        self.restart_silence(lane);
        if lane.flags.take(Flag::Quiet) {
            self.news.hearing(Hearing::Resumed);
        }
    }

    /// The body of an OPEN.
    pub(super) fn open_body(&mut self, lane: &mut Lane, to: u8) -> (Reply, [u8; OPEN_LEN]) {
        let stranger = self.challenges.take(to);
        let reply = match (core::mem::replace(&mut lane.owed, Owed::Nothing), stranger) {
            (Owed::Challenge, Some(stranger)) => Reply::Challenge(stranger),
            (Owed::Answer, _) => Reply::Answer,
            // A challenge that was pushed out: nothing is wrong with a plain question.
            _ => Reply::Ask,
        };
        let (mine, echo) = lane.session.numbers(reply);
        let keep_alive = if lane.has(Flag::Sleeps) { 0 } else { self.stated.keep_alive };
        let three = keep_alive.saturating_mul(3);
        let open = Open {
            version: WIRE_VERSION,
            ask: reply.asks(),
            numberless: false,
            cause: self.stated.cause,
            mine,
            echo,
            window: 1,
            max_payload: u16::try_from(Twin::<F, C, FRAME>::MAX_PAYLOAD).unwrap_or(u16::MAX),
            fingerprint: self.stated.fingerprint,
            silence: u8::try_from(three.div_ceil(100_000)).unwrap_or(0),
            identity: self.stated.identity(),
        };
        (reply, open.octets())
    }
}

/// Tells strangers apart: one in 65 536 passes for the one before, and is then not told of.
fn digest(terms: &Terms) -> u16 {
    let fcs = Fcs16::update(Fcs16::INIT, &[terms.version]);
    let fcs = Fcs16::update(fcs, &terms.fingerprint.to_le_bytes());
    let [low, high, ..] = Fcs16::octets(Fcs16::update(fcs, &terms.identity.to_le_bytes()));
    u16::from_le_bytes([low, high])
}

/// The later of two own numbers.
const fn later(one: u32, other: u32) -> u32 {
    if other.wrapping_sub(one) <= u32::MAX / 2 { other } else { one }
}
