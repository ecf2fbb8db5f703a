//! Frames out, in their order: OPEN, answers, set-points, what is sent again, what is new, notices, a bare ACK. After a set-point one of the
//! others goes first, so that a stream of set-points faster than the line starves nobody.

use super::{Link, timers::Timer};
use crate::{
    fcs::Fcs,
    frame::{Extension, Header, Kind, write},
    framing::{Framing, order::Room as _},
    rules::holds,
    seq::Serial,
    stats::{Counter, STATISTICS_LEN},
    time::{Duration, Instant, after},
};

/// The next frame to send.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Job {
    Open,
    Exchange,
    SetPoint,
    Resend,
    Fresh,
    Notice,
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
        self.advance(now);
        match self.next_job() {
            Some(job) => Some(self.transmit(job, out)),
            None => {
                self.sent.others_turn = self.sent.others_turn && self.outbox.set_point().is_some();
                None
            }
        }
    }

    #[inline(never)]
    fn transmit(&mut self, job: Job, out: &mut [u8]) -> usize {
        let len = match job {
            Job::Open => self.send_open(out),
            Job::Exchange => match self.wanted.take() {
                Some(Extension::Statistics) => self.send_statistics(out),
                Some(extension) => self.send_exchange(extension, out),
                None => 0,
            },
            Job::Ack => {
                let header = self.session_header(Kind::Ack, 0);
                self.put(&header, &[], out)
            }
            Job::SetPoint | Job::Resend | Job::Fresh | Job::Notice => {
                self.sent.others_turn = job == Job::SetPoint;
                self.send_item(job, out).unwrap_or(0)
            }
        };
        self.keep_alive();
        len
    }

    /// The next frame to send, if any may be sent now.
    #[inline(always)]
    pub(super) fn next_job(&self) -> Option<Job> {
        if self.is_hushed() {
            return None;
        }
        if self.owed.is_some() {
            Some(Job::Open)
        } else if self.wanted.any() {
            Some(Job::Exchange)
        } else if self.session.is_up() {
            self.session_job()
        } else {
            None
        }
    }

    fn session_job(&self) -> Option<Job> {
        let job = if self.outbox.is_empty() { None } else { self.item_job()? };
        job.or(if self.timers.ack.is_due() { Some(Job::Ack) } else { None })
    }

    /// The next message; nothing at all may be started (the outer `None`) while a set-point waits for the line to drain, or the line would
    /// never drain.
    fn item_job(&self) -> Option<Option<Job>> {
        let set_point = self.outbox.set_point().is_some() && self.set_point_pace_is_open();
        if set_point && self.set_point_hold().is_some() {
            return None;
        }
        if set_point && !self.sent.others_turn {
            return Some(Some(Job::SetPoint));
        }
        Some(self.other_job().or(if set_point { Some(Job::SetPoint) } else { None }))
    }

    /// The next message that is no set-point.
    fn other_job(&self) -> Option<Job> {
        if self.outbox.due().is_some() {
            Some(Job::Resend)
        } else if self.outbox.fresh(self.window()).is_some() && self.confirmed_pace_is_open() {
            Some(Job::Fresh)
        } else if self.outbox.notice().is_some() {
            Some(Job::Notice)
        } else {
            None
        }
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

    #[inline(never)]
    fn put(&mut self, header: &Header, payload: &[u8], out: &mut [u8]) -> usize {
        let len = self.write(header, payload, out);
        self.count_sent(len)
    }

    /// Encodes a frame; gives its length, or zero if it does not fit.
    fn write(&self, header: &Header, payload: &[u8], out: &mut [u8]) -> usize {
        write::<F, C>(&self.receiver.framing, header, payload, self.line.lead(), out).unwrap_or(0)
    }

    pub(super) fn count_sent(&mut self, len: usize) -> usize {
        self.line.sent(len);
        self.measures.statistics.add(Counter::FramesSent, 1);
        self.measures.statistics.add(Counter::OctetsSent, len);
        len
    }

    #[inline(never)]
    fn send_open(&mut self, out: &mut [u8]) -> usize {
        let Some(reply) = self.owed.take() else { return 0 };
        let body = self.open_body(reply);
        let len = self.put(&Header::new(Kind::Open), &body, out);
        if reply.asks() && !self.session.is_up() {
            self.opening.sent(self.line.busy());
        }
        len
    }

    #[inline(never)]
    fn send_exchange(&mut self, extension: Extension, out: &mut [u8]) -> usize {
        let mut header = Header::new(Kind::Extended);
        header.extension = Some(extension);
        if extension == Extension::StatisticsRequest {
            return self.put(&header, &[], out);
        }
        let len = self.write(&header, self.inbox.body(), out);
        self.inbox.drop_body();
        self.count_sent(len);
        if extension == Extension::Probe {
            *self.probe.left = after(self.measures.last, self.line.busy());
        }
        len
    }

    /// Apart from the others for the sake of the stack: it holds the counters' octets.
    #[inline(never)]
    fn send_statistics(&mut self, out: &mut [u8]) -> usize {
        let mut header = Header::new(Kind::Extended);
        header.extension = Some(Extension::Statistics);
        let mut body = [0; STATISTICS_LEN];
        let room = self.statistics_room(out.len());
        let len = body.get_mut(..room).map_or(0, |body| self.measures.statistics.write(body));
        self.put(&header, body.get(..len).unwrap_or(&[]), out)
    }

    /// As much as the peer takes (all of it if it never said) and as `out` holds.
    fn statistics_room(&self, out: usize) -> usize {
        let wire = |body: usize| F::max_encoded_len(body.saturating_add(2).saturating_add(C::LEN));
        let held = (1..=STATISTICS_LEN).rev().find(|&body| wire(body) <= out);
        held.unwrap_or(0).min(usize::from(self.peer_takes))
    }

    /// Sends the message that is next; gives its length.
    #[inline(never)]
    fn send_item(&mut self, job: Job, out: &mut [u8]) -> Option<usize> {
        let flight = match job {
            Job::Fresh => Some(self.launch()?),
            Job::Resend => self.outbox.due(),
            _ => None,
        };
        let (at, number) = match (flight, job) {
            (Some(flight), _) => self.outbox.place(flight)?,
            (None, Job::SetPoint) => (self.outbox.set_point()?, self.number_set_point()),
            (None, _) => (self.outbox.notice()?, self.sent.notice.take()),
        };
        let kind = self.outbox.class(at)?.kind();
        let header = self.session_header(kind, number.get());
        let len = self.write(&header, self.outbox.payload(at), out);
        self.count_sent(len);
        if let Some(flight) = flight {
            if self.outbox.sent(flight, self.line.busy()) > 1 {
                self.measures.statistics.add(Counter::Resent, 1);
            }
        } else {
            self.outbox.forget(at);
        }
        Some(len)
    }

    fn number_set_point(&mut self) -> Serial {
        if let Some(books) = self.overtaking.get_mut() {
            books.set_point_pace.count(books.two_lifetimes());
        }
        self.sent.set_point.take()
    }

    /// Takes a new number into use for the item that is next; gives its flight.
    fn launch(&mut self) -> Option<usize> {
        let at = self.outbox.fresh(self.window())?;
        if let Some(books) = self.overtaking.get_mut() {
            books.confirmed_pace.count(Duration::from_ticks(books.lifetime));
        }
        Some(self.outbox.launch(at, self.measures.time_out()))
    }
}
