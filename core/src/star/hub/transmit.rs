//! Frames out. Leaves with something to send take turns, a frame each; what a leaf gets first is decided as by a link: OPEN, answers, set-points, what is
//! sent again, what is new, notices, a bare ACK, and after a set-point one of the others.

use super::{
    Hub, Transmit, address,
    common::Common,
    flags::Flag,
    item::Stage,
    lane::{Lane, Owed},
    place,
};
use crate::{
    fcs::Fcs,
    frame::{Ack, Addresses, Class, Extension, Header, Kind, write},
    framing::Framing,
    retry::Retry,
    stats::{Counter, STATISTICS_LEN},
    time::Instant,
};

/// The next frame to a leaf; a message by its place in the pool.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Job {
    Open,
    Answer,
    SetPoint(u8),
    Resend,
    Fresh(u8),
    Notice(u8),
    Ack,
}

impl<F: Framing, C: Fcs, const LEAVES: usize, const POOL: usize, const FRAME: usize>
    Hub<F, C, LEAVES, POOL, FRAME>
{
    /// Writes the next frame into `out`, encoded and ready for the medium, and says which leaf it is for. Leaves take turns.
    ///
    /// `out` should hold [`max_transmit`](Self::max_transmit) octets. A frame that does not fit is given as no octets at all, as if the medium had lost it.
    #[must_use]
    pub fn poll_transmit(&mut self, now: Instant, out: &mut [u8]) -> Option<Transmit> {
        self.common.advance(now);
        if self.common.set_point_hold().is_some() {
            return None;
        }
        if let Some(len) = self.common.send_welcome(out) {
            return Some(Transmit { leaf: 0, len });
        }
        while let Some(who) = self.ring.pop() {
            if let Some(transmit) = self.transmit(usize::from(who), out) {
                return Some(transmit);
            }
        }
        None
    }

    /// As [`poll_transmit`](Self::poll_transmit), for this leaf only: the one that gets the turn (W-58). `None`: there is nothing for it.
    #[must_use]
    pub fn poll_transmit_to(&mut self, now: Instant, leaf: u8, out: &mut [u8]) -> Option<Transmit> {
        self.common.advance(now);
        if self.common.set_point_hold().is_some() {
            return None;
        }
        self.transmit(place(leaf)?, out)
    }

    fn transmit(&mut self, place: usize, out: &mut [u8]) -> Option<Transmit> {
        let leaf = address(place);
        let lane = self.lanes.get_mut(place)?;
        lane.catch_up(&self.common.clock, &self.common.epochs);
        let job = self.common.job(lane, leaf);
        let sent = job.map(|job| Transmit { leaf, len: self.common.transmit(lane, leaf, job, out) });
        self.settle(place);
        sent
    }
}

impl<F: Framing, C: Fcs, const POOL: usize, const FRAME: usize> Common<F, C, POOL, FRAME> {
    /// The next frame to this leaf, if any may be sent now.
    pub(super) fn job(&self, lane: &Lane, leaf: u8) -> Option<Job> {
        if lane.owed != Owed::Nothing {
            Some(Job::Open)
        } else if self.answers.owes(leaf) {
            Some(Job::Answer)
        } else if lane.session.is_up() {
            let item = if self.listens(lane) { self.item_job(lane) } else { None };
            item.or(if lane.has(Flag::Ack) { Some(Job::Ack) } else { None })
        } else {
            None
        }
    }

    fn item_job(&self, lane: &Lane) -> Option<Job> {
        if lane.has(Flag::Due) {
            let set_point = if lane.has(Flag::OthersTurn) { None } else { self.set_point_job(lane) };
            return set_point.or(Some(Job::Resend));
        }
        self.pool.item(lane.first)?;
        let set_point = self.set_point_job(lane);
        if set_point.is_some() && !lane.has(Flag::OthersTurn) {
            return set_point;
        }
        self.other_job(lane).or(set_point)
    }

    fn set_point_job(&self, lane: &Lane) -> Option<Job> {
        let place = self.pool.waiting(lane.first, &[Class::SetPoint])?;
        lane.paced.set_points_are_open(&self.epochs).then_some(Job::SetPoint(place))
    }

    /// The next message that is neither a set-point nor sent again.
    fn other_job(&self, lane: &Lane) -> Option<Job> {
        if lane.out.is_open(1)
            && lane.paced.numbers_are_open(&self.epochs)
            && let Some(place) = self.pool.waiting(lane.first, &[Class::Errand, Class::Report])
        {
            return Some(Job::Fresh(place));
        }
        self.pool.waiting(lane.first, &[Class::Notice]).map(Job::Notice)
    }

    #[inline(never)]
    fn transmit(&mut self, lane: &mut Lane, leaf: u8, job: Job, out: &mut [u8]) -> usize {
        let len = match job {
            Job::Open => return self.send_open(lane, leaf, out),
            Job::Answer => self.send_answer(lane, leaf, out),
            Job::Ack => {
                let header = self.session_header(lane, leaf, Kind::Ack, 0);
                let len = self.write(&header, &[], out);
                self.count_sent(len)
            }
            Job::SetPoint(_) | Job::Resend | Job::Fresh(_) | Job::Notice(_) => {
                lane.set(Flag::OthersTurn, matches!(job, Job::SetPoint(_)));
                self.send_item(lane, leaf, job, out)
            }
        };
        self.keep_alive(lane);
        len
    }

    fn header(leaf: u8, kind: Kind) -> Header {
        Header { addresses: Some(Addresses { to: leaf, from: 0 }), ..Header::new(kind) }
    }

    /// The header of a frame in this session; an acknowledgement that is owed rides along.
    fn session_header(&self, lane: &mut Lane, leaf: u8, kind: Kind, number: u8) -> Header {
        let session = lane.session.number();
        let mut header = Self::header(leaf, kind);
        header.session = u8::try_from(session & 3).unwrap_or(0);
        header.tag = (!F::ORDERED).then(|| u16::try_from(session >> 2).unwrap_or(0));
        header.number = number;
        if lane.flags.take(Flag::Ack) || kind == Kind::Ack {
            let more = lane.has(Flag::More).then_some(0x80);
            header.ack = Some(Ack { held: more, ..lane.into.ack() });
        }
        header
    }

    /// Encodes a frame; gives its length, or zero if it does not fit.
    fn write(&self, header: &Header, payload: &[u8], out: &mut [u8]) -> usize {
        write::<F, C>(&self.receiver.framing, header, payload, self.line.lead(), out).unwrap_or(0)
    }

    pub(super) fn count_sent(&mut self, len: usize) -> usize {
        self.line.sent(len);
        self.statistics.add(Counter::FramesSent, 1);
        self.statistics.add(Counter::OctetsSent, len);
        len
    }

    #[inline(never)]
    fn send_open(&mut self, lane: &mut Lane, leaf: u8, out: &mut [u8]) -> usize {
        let (reply, body) = self.open_body(lane, leaf);
        let len = self.write(&Self::header(leaf, Kind::Open), &body, out);
        self.count_sent(len);
        if lane.session.is_up() {
            self.keep_alive(lane);
        } else if reply.asks() {
            lane.retry.sent(self.line.busy());
        }
        len
    }

    #[inline(never)]
    fn send_answer(&mut self, lane: &Lane, leaf: u8, out: &mut [u8]) -> usize {
        let extension = self.answers.take(leaf);
        let header = Header { extension: Some(extension), ..Self::header(leaf, Kind::Extended) };
        let len = if extension == Extension::ProbeAnswer {
            self.write(&header, self.answers.body(), out)
        } else {
            let mut body = [0; STATISTICS_LEN];
            let wire = |body: usize| F::max_encoded_len(body.saturating_add(4).saturating_add(C::LEN));
            let held = (1..=STATISTICS_LEN).rev().find(|&body| wire(body) <= out.len()).unwrap_or(0);
            let takes = if lane.max_payload == 0 { held } else { usize::from(lane.max_payload) };
            let len = body.get_mut(..held.min(takes)).map_or(0, |body| self.statistics.write(body));
            self.write(&header, body.get(..len).unwrap_or(&[]), out)
        };
        self.count_sent(len)
    }

    /// Sends the message that is next; gives its length.
    fn send_item(&mut self, lane: &mut Lane, leaf: u8, job: Job, out: &mut [u8]) -> usize {
        if let Job::Fresh(place) = job {
            self.launch(lane, place);
        }
        let (place, kind, number) = match job {
            Job::SetPoint(place) => {
                lane.paced.count_set_point(&self.epochs);
                (place, Kind::SetPoint, lane.set_point_out.take())
            }
            Job::Notice(place) => (place, Kind::Notice, lane.notice_out.take()),
            _ => {
                let kind = if lane.has(Flag::Report) { Kind::Report } else { Kind::Errand };
                (lane.first, kind, lane.out.base())
            }
        };
        let header = self.session_header(lane, leaf, kind, number.get());
        let is_void = lane.has(Flag::Void) && matches!(job, Job::Resend);
        let payload = if is_void { &[] } else { self.pool.payload(place) };
        let len = self.write(&header, payload, out);
        self.count_sent(len);
        if matches!(job, Job::SetPoint(_) | Job::Notice(_)) {
            self.pool.remove(&mut lane.first, place);
        } else {
            lane.set(Flag::Due, false);
            lane.retry.sent(self.line.busy());
            let again = u8::from(matches!(job, Job::Resend));
            self.statistics.add(Counter::Resent, usize::from(again));
        }
        len
    }

    /// Takes a new number into use for a waiting message.
    fn launch(&mut self, lane: &mut Lane, place: u8) {
        lane.out.take();
        lane.paced.count_number(&self.epochs);
        lane.retry = Retry::new(self.time_out(lane));
        self.pool.bring_to_front(&mut lane.first, place);
        let Some(item) = self.pool.item_mut(place) else { return };
        item.stage = Stage::Flying;
        let is_report = item.class == Class::Report;
        lane.set(Flag::Report, is_report);
        lane.set(Flag::Flying, true);
        lane.set(Flag::Void, false);
    }
}
