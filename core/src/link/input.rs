//! Octets in: what a received frame means (W-27, W-31, W-32).

use super::{
    Link,
    receiver::{Found, Span},
};
use crate::{
    fcs::Fcs,
    frame::{Class, Header, Kind, MessageNumber, Open, Reject},
    framing::{Fed, Framing, Step, order::Room as _},
    rules::holds,
    seq::Serial,
    session::Reply,
    stats::Counter,
    time::{Instant, elapsed},
};

/// A frame in the receive buffer.
#[derive(Debug, Clone, Copy)]
pub(super) struct Received<'a> {
    /// By reference: it is not small for a board.
    pub(super) header: &'a Header,
    /// Payload or body.
    pub(super) span: Span,
}

impl<F: Framing, C: Fcs, const FRAME: usize, const WINDOW: usize, const QUEUE: usize>
    Link<F, C, FRAME, WINDOW, QUEUE>
{
    /// Takes octets that arrived at `arrived`; gives how many are done with.
    ///
    /// It stops after an octet that completes something to tell or to answer: drain [`poll_event`](Self::poll_event), then feed the rest.
    /// While an event waits it takes none. `arrived` may lie before times handed in earlier: octets are best stamped where they
    /// come in. On a datagram link `octets` is one whole datagram.
    #[must_use]
    #[inline(never)]
    pub fn handle_octets(&mut self, arrived: Instant, octets: &[u8]) -> usize {
        let Fed { consumed, step } = self.take_octets(arrived, octets);
        self.handle_step(step);
        consumed
    }

    /// Puts octets together to what they make.
    #[inline(always)]
    pub(super) fn take_octets(&mut self, arrived: Instant, octets: &[u8]) -> Fed {
        if self.has_event() {
            return Fed { consumed: 0, step: Step::More };
        }
        let span = elapsed(arrived, self.measures.last);
        if span.as_ticks() > 0 {
            // An old stamp is no step of the clock: that would count the time since it twice.
            self.pass(arrived, span);
        }
        if self.is_hushed() {
            return Fed { consumed: octets.len(), step: Step::More };
        }
        let fed = self.receiver.feed::<C>(arrived, octets);
        self.measures.statistics.add(Counter::OctetsReceived, fed.consumed);
        fed
    }

    /// Takes what octets have made.
    #[inline(always)]
    pub(super) fn handle_step(&mut self, step: Step) {
        match step {
            Step::More => return,
            Step::Frame { start, len } => self.handle_frame(Span::new(start, len)),
            Step::Text { len } => {
                self.measures.statistics.add(Counter::TextOctets, len);
                self.receiver.found = Some(Found::Text(Span::new(0, len)));
            }
            Step::Refused { reject, .. } => self.refuse(reject),
        }
        self.untold = true;
    }

    /// Counts a reject and tells it.
    #[inline(never)]
    pub(super) fn refuse(&mut self, reject: Reject) {
        self.measures.statistics.refuse(reject);
        self.news.refuse(reject);
    }

    /// Apart from the octets, most of which complete nothing.
    #[inline(never)]
    fn handle_frame(&mut self, frame: Span) {
        let read = Header::read(self.receiver.octets(frame), Self::is_unordered());
        let (header, head) = match &read {
            Ok((header, head)) => (header, *head),
            Err(reject) => return self.refuse(*reject),
        };
        self.measures.statistics.add(Counter::FramesReceived, 1);
        if header.addresses.is_some() && holds(15) {
            return self.refuse(Reject::NotForUs);
        }
        let received = Received { header, span: frame.after(head) };
        match header.kind {
            Kind::Open => self.receive_open(received.span),
            Kind::Extended => self.handle_extended(received),
            _ => self.handle_session_frame(received),
        }
    }

    #[inline(never)]
    fn receive_open(&mut self, body: Span) {
        if let Ok(open) = &Open::parse(self.receiver.octets(body)) {
            self.handle_open(open);
        }
    }

    /// Frames of kinds 2 to 6.
    fn handle_session_frame(&mut self, received: Received<'_>) {
        if !self.session.is_up() && holds(27) {
            return self.prompt_before_session();
        }
        if !self.is_of_session(received.header) && holds(32) {
            if let Some(ack) = received.header.ack.as_ref().filter(|_| !holds(121)) {
                self.handle_ack(ack);
            }
            return self.prompt_other_session();
        }
        if let Some(ack) = &received.header.ack {
            self.handle_ack(ack);
        }
        // After the acknowledgement: the time-out that it may change is a part of the silence.
        self.heard();
        match received.header.kind.class() {
            Some(Class::Errand | Class::Report) => self.handle_confirmed(received),
            Some(Class::SetPoint) => self.handle_set_point(received),
            Some(Class::Notice) => self.handle_notice(received),
            None => {}
        }
    }

    /// Session bits and tag are those of the session (W-13, W-14, W-31).
    pub(super) fn is_of_session(&self, header: &Header) -> bool {
        let number = self.session.number();
        u32::from(header.session) == number & 3
            && header.tag.is_none_or(|tag| !holds(14) || !holds(129) || u32::from(tag) == number >> 2)
    }

    /// A message before the session: asks the peer to open, at most once per T_min (W-27).
    fn prompt_before_session(&mut self) {
        self.refuse(Reject::NotOpen);
        self.hasten_opening();
        if !self.closed && self.timers.prompt == 0 && !self.far.is_stranger() {
            self.timers.prompt = self.t_min();
            self.owed = Some(Reply::Ask);
        }
    }

    /// A message of another session: asks the peer where it is, at most once per T_open (W-32).
    fn prompt_other_session(&mut self) {
        self.refuse(Reject::OtherSession);
        if self.timers.prompt == 0 {
            self.timers.prompt = self.t_open().as_ticks();
            self.owed = Some(Reply::Ask);
        }
    }

    fn handle_set_point(&mut self, received: Received<'_>) {
        let number = Serial::new(received.header.number);
        let verdict = match self.overtaking.get_mut() {
            None => self.set_points.judge(number),
            Some(books) => match MessageNumber::of(self.receiver.octets(received.span)) {
                Some(message) => books.judge(message, number).map(|()| self.set_points.missed(number)),
                None => return,
            },
        };
        match verdict {
            Ok(missed) => {
                self.measures.statistics.add(Counter::SetPointsLost, usize::from(missed));
                self.find(Class::SetPoint, received, missed);
            }
            Err(reject) => self.refuse(reject),
        }
    }

    /// Notices: the number only counts losses (W-47).
    fn handle_notice(&mut self, received: Received<'_>) {
        let number = Serial::new(received.header.number);
        let ahead = number.since(self.notices);
        let late = Self::is_unordered() && self.notices.is_newer_than(number);
        let missed = if late || !holds(47) { 0 } else { ahead };
        if !late {
            self.notices = number.plus(1);
        }
        self.measures.statistics.add(Counter::NoticesLost, usize::from(missed));
        self.find(Class::Notice, received, missed);
    }

    /// Lays a message out for the application; a void is none.
    pub(super) fn find(&mut self, class: Class, received: Received<'_>, missed: u8) {
        let Received { header, span } = received;
        let message = Found::Message { class, number: header.number, missed, span };
        self.receiver.found = if span.is_empty() { None } else { Some(message) };
    }
}
