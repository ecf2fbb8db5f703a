//! Confirmed messages in, and acknowledgements (W-38 to W-40), with a window of 1.

use super::{common::Common, flags::Flag, lane::Lane};
use crate::{
    fcs::Fcs,
    frame::{Ack, Class, Header, Kind, Reject},
    framing::Framing,
    link::{Outcome, receiver::Span},
    seq::Serial,
    stats::Counter,
    window::Place,
};

impl<F: Framing, C: Fcs, const POOL: usize, const FRAME: usize> Common<F, C, POOL, FRAME> {
    /// Takes an acknowledgement. With one message under way nothing can be held behind it.
    pub(super) fn handle_ack(&mut self, lane: &mut Lane, ack: &Ack) {
        match lane.out.settles(Serial::new(ack.next)) {
            None => self.refuse(Reject::BadAcknowledgement),
            Some(0) => {}
            Some(_) => self.land(lane),
        }
    }

    /// The message under way has arrived.
    fn land(&mut self, lane: &mut Lane) {
        // Karn's rule: only what was sent once, and has not timed out, makes a sample.
        if lane.retry.sendings() == 1
            && !lane.has(Flag::Due)
            && let Some(round_trip) = lane.retry.since_sent()
        {
            lane.estimator.sample(round_trip);
        }
        lane.out.pass();
        lane.set(Flag::Flying, false);
        lane.set(Flag::Due, false);
        if !lane.flags.take(Flag::Void) {
            let place = lane.first;
            self.pool.finish(&mut lane.first, place, Outcome::Delivered);
        }
    }

    pub(super) fn handle_confirmed(&mut self, lane: &mut Lane, header: &Header, body: Span) {
        let number = Serial::new(header.number);
        match lane.into.place(number, 1) {
            Place::Outside => self.refuse(Reject::OutsideWindow),
            Place::Repeat => {
                self.statistics.add(Counter::Repeats, 1);
                lane.set(Flag::Ack, true);
            }
            Place::Next | Place::Ahead if body.is_empty() => lane.take_number(number),
            Place::Next | Place::Ahead => {
                let class = if header.kind == Kind::Report { Class::Report } else { Class::Errand };
                self.find(class, header, body, 0);
            }
        }
    }
}

impl Lane {
    /// A number is done with: its message was handed out, or it is a void.
    pub(super) fn take_number(&mut self, number: Serial) {
        self.into.take(number);
        if self.into.is_ready() {
            self.into.pass();
        }
        self.set(Flag::Ack, true);
    }
}
