//! Octets in: whose frame it is, and what it means for that leaf (W-27, W-31, W-32).

use super::{Hub, common::Common, flags::Flag, lane::Lane};
use crate::{
    fcs::Fcs,
    frame::{Class, Extension, Header, Kind, MessageNumber, Open, Reject},
    framing::{Framing, Step, order::Room as _},
    link::receiver::{Found, Span},
    seq::Serial,
    star::addressed::addresses_at,
    stats::Counter,
    time::{Duration, Instant, elapsed},
};

impl<F: Framing, C: Fcs, const LEAVES: usize, const POOL: usize, const FRAME: usize>
    Hub<F, C, LEAVES, POOL, FRAME>
{
    /// Takes octets that arrived from the medium at `arrived`; gives how many are done with.
    ///
    /// It stops after a frame: drain [`poll_event`](Self::poll_event), then feed the rest. While an event waits it takes none. On a medium of datagrams `octets` is
    /// one whole datagram.
    ///
    /// Frames between others, and those to all, are skipped without a word, as is the own echo (W-62); one from an address that no leaf was [admitted](Self::admit) at
    /// is refused as *not for us*.
    #[must_use]
    pub fn handle_octets(&mut self, arrived: Instant, octets: &[u8]) -> usize {
        self.handle_octets_if(arrived, octets, &mut |_, _| true)
    }

    /// The same for a program that knows who may be at an address, as [`Registrar`](crate::star::Registrar) does: a frame is dropped, and changes nothing, unless `may` says yes to the
    /// address of its leaf and the identity that it shows, if it is an OPEN that shows one.
    #[must_use]
    #[inline(never)]
    pub fn handle_octets_if(
        &mut self,
        arrived: Instant,
        octets: &[u8],
        may: &mut dyn FnMut(u8, Option<u64>) -> bool,
    ) -> usize {
        if self.has_event() {
            return 0;
        }
        let common = &mut self.common;
        if elapsed(arrived, common.clock.last()) > Duration::from_ticks(0) {
            common.step(arrived);
        }
        let fed = common.receiver.feed::<C>(arrived, octets);
        common.statistics.add(Counter::OctetsReceived, fed.consumed);
        common.news.leaf = 0;
        match fed.step {
            Step::More => {}
            Step::Frame { start, len } => self.handle_frame(Span::new(start, len), may),
            Step::Text { len } => {
                common.statistics.add(Counter::TextOctets, len);
                common.receiver.found = Some(Found::Text(Span::new(0, len)));
            }
            Step::Refused { reject, .. } => common.refuse(reject),
        }
        fed.consumed
    }

    /// The address that the last frame came from, if it is one of the table and no leaf was admitted there.
    pub(crate) fn unknown_sender(&self) -> Option<u8> {
        let leaf = self.common.news.leaf;
        let lane = self.lanes.get(usize::from(leaf.wrapping_sub(1)))?;
        (!lane.has(Flag::Present)).then_some(leaf)
    }

    /// Apart from the octets, most of which complete nothing.
    #[inline(never)]
    fn handle_frame(&mut self, frame: Span, may: &mut dyn FnMut(u8, Option<u64>) -> bool) {
        let Some(from) = self.common.sender(frame) else { return };
        self.common.news.leaf = from;
        let place = usize::from(from.wrapping_sub(1));
        let Some(lane) = self.lanes.get_mut(place).filter(|lane| lane.has(Flag::Present)) else {
            return self.common.refuse(Reject::NotForUs);
        };
        if !may(from, self.common.identity(frame)) {
            return;
        }
        lane.catch_up(&self.common.clock, &self.common.epochs);
        self.common.receive(lane, from, frame);
        self.settle(place);
    }
}

impl<F: Framing, C: Fcs, const POOL: usize, const FRAME: usize> Common<F, C, POOL, FRAME> {
    /// The address of the leaf that sent the frame, if it is for the hub.
    fn sender(&mut self, frame: Span) -> Option<u8> {
        let octets = self.receiver.octets(frame);
        let Some(at) = addresses_at(*octets.first()?, !F::ORDERED) else {
            self.take_join(frame);
            return None;
        };
        let &[to, from] = octets.get(at..)?.first_chunk::<2>()?;
        match (to, from) {
            (251..=254, _) | (_, 251..) => {
                self.refuse(Reject::BadAddress);
                None
            }
            (0, 1..) => Some(from),
            _ => None,
        }
    }

    /// A frame from the leaf of this lane.
    fn receive(&mut self, lane: &mut Lane, from: u8, frame: Span) {
        let (header, head) = match Header::read(self.receiver.octets(frame), !F::ORDERED) {
            Ok(read) => read,
            Err(reject) => return self.refuse(reject),
        };
        self.statistics.add(Counter::FramesReceived, 1);
        let body = frame.after(head);
        match header.kind {
            Kind::Open => {
                if let Ok(open) = &Open::parse(self.receiver.octets(body)) {
                    self.handle_open(lane, from, open);
                }
            }
            Kind::Extended => self.handle_extended(lane, from, &header, body),
            _ => self.handle_session_frame(lane, from, &header, body),
        }
    }

    /// Probes and statistics, which belong to no session (W-48).
    fn handle_extended(&mut self, lane: &mut Lane, from: u8, header: &Header, body: Span) {
        self.hasten_opening(lane);
        match header.extension {
            Some(Extension::Probe) => {
                let t_min = self.t_min;
                self.answers.probe(from, self.receiver.octets(body), t_min);
            }
            Some(Extension::StatisticsRequest) => self.answers.statistics(from, self.t_min),
            _ => {}
        }
    }

    /// Frames of kinds 2 to 6.
    fn handle_session_frame(&mut self, lane: &mut Lane, from: u8, header: &Header, body: Span) {
        if !lane.session.is_up() {
            self.refuse(Reject::NotOpen);
            self.hasten_opening(lane);
            if !lane.has(Flag::Stranger) {
                self.prompt(lane, self.t_min);
            }
            return;
        }
        let number = lane.session.number();
        let is_ours = u32::from(header.session) == number & 3
            && header.tag.is_none_or(|tag| u32::from(tag) == number >> 2);
        if !is_ours {
            self.refuse(Reject::OtherSession);
            return self.prompt(lane, self.t_open());
        }
        if let Some(ack) = &header.ack {
            self.handle_ack(lane, ack);
        }
        // After the acknowledgement: the time-out that it may change is a part of the silence.
        self.heard(lane, from);
        match header.kind.class() {
            Some(Class::Errand | Class::Report) => self.handle_confirmed(lane, header, body),
            Some(Class::SetPoint) => self.handle_set_point(lane, from, header, body),
            Some(Class::Notice) => self.handle_notice(lane, header, body),
            None => {}
        }
    }

    fn handle_set_point(&mut self, lane: &mut Lane, from: u8, header: &Header, body: Span) {
        let number = Serial::new(header.number);
        let message = MessageNumber::of(self.receiver.octets(body));
        let verdict = match (self.lasts.get_mut(), message) {
            (None, _) => lane.set_points.judge(number),
            (Some(lasts), Some(message)) => {
                lasts.judge(from, message, number).map(|()| lane.set_points.missed(number))
            }
            (Some(_), None) => return,
        };
        match verdict {
            Ok(missed) => {
                self.statistics.add(Counter::SetPointsLost, usize::from(missed));
                self.find(Class::SetPoint, header, body, missed);
            }
            Err(reject) => self.refuse(reject),
        }
    }

    /// Notices: the number only counts losses (W-47).
    fn handle_notice(&mut self, lane: &mut Lane, header: &Header, body: Span) {
        let number = Serial::new(header.number);
        let late = !F::ORDERED && lane.notices.is_newer_than(number);
        let missed = if late { 0 } else { number.since(lane.notices) };
        if !late {
            lane.notices = number.plus(1);
        }
        self.statistics.add(Counter::NoticesLost, usize::from(missed));
        self.find(Class::Notice, header, body, missed);
    }

    /// Lays a message out for the application; a void is none.
    pub(super) fn find(&mut self, class: Class, header: &Header, span: Span, missed: u8) {
        let message = Found::Message { class, number: header.number, missed, span };
        self.receiver.found = if span.is_empty() { None } else { Some(message) };
    }
}
