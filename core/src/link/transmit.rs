//! Frames out, in their order: OPEN, answers, set-points, what is sent again, what is new, notices, a bare ACK. After a set-point one of the
//! others goes first, so that a stream of set-points faster than the line starves nobody.

use super::{Link, news::Role, timers::Timer};
use crate::{
    fcs::Fcs,
    frame::{Class, Extension, Header, Kind, write},
    framing::{Framing, order::Room as _},
    rules::holds,
    session::Reply,
    stats::{Counter, STATISTICS_LEN},
    time::{Duration, Instant},
};

/// The next frame to send. Numbers are places in the queue, that of `Resend` a flight.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Job {
    Open(Reply),
    Exchange(Extension),
    SetPoint(usize),
    Resend(usize),
    Fresh(usize),
    Notice(usize),
    Ack,
}

impl<F: Framing, C: Fcs, const FRAME: usize, const WINDOW: usize, const QUEUE: usize>
    Link<F, C, FRAME, WINDOW, QUEUE>
{
    /// Writes the next frame into `out`, encoded and ready for the line; gives its length.
    ///
    /// `out` should hold [`max_transmit`](Self::max_transmit) octets. A frame that does not fit is given as no octets at all, as
    /// if the line had lost it.
    #[must_use]
    pub fn poll_transmit(&mut self, now: Instant, out: &mut [u8]) -> Option<usize> {
        let _ = self.advance(now);
        let Some(job) = self.next_job() else {
            self.sent.others_turn &= self.outbox.set_point().is_some();
            return None;
        };
        match job {
            Job::SetPoint(_) => self.sent.others_turn = true,
            Job::Resend(_) | Job::Fresh(_) | Job::Notice(_) => self.sent.others_turn = false,
            Job::Open(_) | Job::Exchange(_) | Job::Ack => {}
        }
        let len = match job {
            Job::Open(reply) => self.send_open(reply, out),
            Job::Exchange(extension) => self.send_exchange(extension, out),
            Job::SetPoint(at) => self.send_unconfirmed(Class::SetPoint, at, out),
            Job::Notice(at) => self.send_unconfirmed(Class::Notice, at, out),
            Job::Resend(flight) => self.send_confirmed(flight, out),
            Job::Fresh(at) => self.send_fresh(at, out),
            Job::Ack => {
                let header = self.session_header(Kind::Ack, 0);
                self.put(&header, &[], out)
            }
        };
        self.keep_alive();
        Some(len)
    }

    /// The next frame to send, if any may be sent now.
    pub(super) fn next_job(&self) -> Option<Job> {
        if !self.timers.hush.is_off() {
            return None;
        }
        if let Some(reply) = self.owed.open {
            return Some(Job::Open(reply));
        }
        let exchange = &self.owed.exchange;
        let extension = match exchange.role {
            Some(Role::Answer) => Some(Extension::ProbeAnswer),
            Some(Role::Probe) => Some(Extension::Probe),
            None if exchange.owes_statistics => Some(Extension::Statistics),
            None => exchange.asks_statistics.then_some(Extension::StatisticsRequest),
        };
        if let Some(extension) = extension {
            return Some(Job::Exchange(extension));
        }
        if self.session.is_up() { self.session_job() } else { None }
    }

    fn session_job(&self) -> Option<Job> {
        let set_point = self.outbox.set_point().filter(|_| self.set_point_pace_is_open());
        // While it waits for the line to drain nothing else is started, or the line would never drain.
        if set_point.is_some() && self.set_point_hold().is_some() {
            return None;
        }
        let first = set_point.map(Job::SetPoint);
        if self.sent.others_turn { self.other_job().or(first) } else { first.or_else(|| self.other_job()) }
            .or_else(|| self.timers.ack.is_due().then_some(Job::Ack))
    }

    /// The next message that is no set-point.
    fn other_job(&self) -> Option<Job> {
        if let Some(at) = self.outbox.due() {
            return Some(Job::Resend(at));
        }
        if let Some(at) = self.outbox.fresh(self.window()).filter(|_| self.confirmed_pace_is_open()) {
            return Some(Job::Fresh(at));
        }
        self.outbox.notice().map(Job::Notice)
    }

    /// How long a waiting set-point is held back because too much is unsent before it (W-46).
    pub(super) fn set_point_hold(&self) -> Option<Duration> {
        let allowed = self.line.time(usize::from(self.stated.set_point_backlog)).as_ticks();
        let excess = self.line.busy().as_ticks().checked_sub(allowed)?;
        (excess > 0 && holds(46)).then_some(Duration::from_ticks(excess))
    }

    /// The header of a frame in this session; an acknowledgement that is owed rides along.
    fn session_header(&mut self, kind: Kind, number: u8) -> Header {
        let session = self.session.number();
        let mut header = Header::new(kind);
        header.session = u8::try_from(session & 3).unwrap_or(0);
        header.tag = Self::is_unordered().then(|| u16::try_from(session >> 2).unwrap_or(0));
        header.number = number;
        if !self.timers.ack.is_off() || kind == Kind::Ack {
            self.timers.ack = Timer::OFF;
            header.ack = Some(self.inbox.ack());
        }
        header
    }

    fn put(&mut self, header: &Header, payload: &[u8], out: &mut [u8]) -> usize {
        let len = self.write(header, payload, out);
        self.count_sent(len)
    }

    /// Encodes a frame; gives its length, or zero if it does not fit.
    fn write(&self, header: &Header, payload: &[u8], out: &mut [u8]) -> usize {
        write::<F, C>(&self.receiver.framing, header, payload, self.line.lead(), out).unwrap_or(0)
    }

    fn count_sent(&mut self, len: usize) -> usize {
        self.line.sent(len);
        self.measures.statistics.add(Counter::FramesSent, 1);
        self.measures.statistics.add(Counter::OctetsSent, len);
        len
    }

    fn send_open(&mut self, reply: Reply, out: &mut [u8]) -> usize {
        self.owed.open = None;
        let body = self.open_body(reply);
        let len = self.put(&Header::new(Kind::Open), &body, out);
        if reply.ask && !self.session.is_up() {
            self.opening.sent(self.line.busy());
        }
        len
    }

    fn send_exchange(&mut self, extension: Extension, out: &mut [u8]) -> usize {
        let mut header = Header::new(Kind::Extended);
        header.extension = Some(extension);
        match extension {
            Extension::Probe | Extension::ProbeAnswer => {
                self.owed.exchange.role = None;
                let len = self.write(&header, self.inbox.body(), out);
                self.inbox.drop_body();
                self.count_sent(len);
                if extension == Extension::Probe {
                    let (_, left) = self.leaving();
                    if let Some((_, sent)) = &mut self.owed.exchange.probe {
                        **sent = left;
                    }
                }
                len
            }
            Extension::Statistics => {
                self.owed.exchange.owes_statistics = false;
                let mut body = [0; STATISTICS_LEN];
                let room = self.statistics_room(out.len());
                let len = body.get_mut(..room).map_or(0, |body| self.measures.statistics.write(body));
                self.put(&header, body.get(..len).unwrap_or(&[]), out)
            }
            Extension::StatisticsRequest => {
                self.owed.exchange.asks_statistics = false;
                self.put(&header, &[], out)
            }
        }
    }

    /// As much as the peer takes (all of it if it never said) and as `out` holds.
    fn statistics_room(&self, out: usize) -> usize {
        let wire = |body: usize| F::max_encoded_len(body.saturating_add(2).saturating_add(C::LEN));
        let held = (1..=STATISTICS_LEN).rev().find(|&body| wire(body) <= out);
        held.unwrap_or(0).min(usize::from(self.peer_takes))
    }

    fn send_unconfirmed(&mut self, class: Class, at: usize, out: &mut [u8]) -> usize {
        let counter = if class == Class::SetPoint { &mut self.sent.set_point } else { &mut self.sent.notice };
        let number = *counter;
        *counter = number.plus(1);
        if let Some(books) = self.overtaking.get_mut().filter(|_| class == Class::SetPoint) {
            books.set_point_pace.count(books.two_lifetimes());
        }
        let header = self.session_header(class.kind(), number.get());
        let len = self.write(&header, self.outbox.payload(at), out);
        self.outbox.forget(at);
        self.count_sent(len)
    }

    fn send_fresh(&mut self, at: usize, out: &mut [u8]) -> usize {
        let flight = self.outbox.launch(at, self.time_out(), self.measures.last);
        if let Some(books) = self.overtaking.get_mut() {
            books.confirmed_pace.count(Duration::from_ticks(books.lifetime));
        }
        self.send_confirmed(flight, out)
    }

    fn send_confirmed(&mut self, flight: usize, out: &mut [u8]) -> usize {
        let Some((at, kind, number)) = self.outbox.frame(flight) else { return 0 };
        let header = self.session_header(kind, number);
        let len = self.write(&header, self.outbox.payload(at), out);
        self.count_sent(len);
        let (leaving, left) = self.leaving();
        if self.outbox.sent(flight, leaving, left) > 1 {
            self.measures.statistics.add(Counter::Resent, 1);
        }
        len
    }
}
