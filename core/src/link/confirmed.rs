//! Confirmed messages in, and acknowledgements (W-38 to W-40).

use super::{Link, input::Received, outbox::Acknowledged, timers::Timer};
use crate::{
    fcs::Fcs,
    frame::{Ack, Class, Kind, Reject},
    framing::Framing,
    rules::holds,
    stats::Counter,
    window::Place,
};

impl<F: Framing, C: Fcs, const FRAME: usize, const WINDOW: usize, const QUEUE: usize>
    Link<F, C, FRAME, WINDOW, QUEUE>
{
    #[inline(never)]
    pub(super) fn handle_ack(&mut self, ack: &Ack) {
        match self.outbox.acknowledge(ack) {
            Acknowledged::Bad => self.refuse(Reject::BadAcknowledgement),
            Acknowledged::Good { sample } => {
                if let Some(round_trip) = sample {
                    self.measures.sample(round_trip, Self::CEILING);
                }
                if F::ORDERED && WINDOW > 1 {
                    let policy = self.item_policy();
                    self.outbox.hurry(&policy);
                }
            }
        }
    }

    pub(super) fn handle_confirmed(&mut self, received: Received<'_>) {
        let number = received.header.number;
        let class = if received.header.kind == Kind::Report { Class::Report } else { Class::Errand };
        match self.inbox.place(number, self.window()) {
            Place::Outside => self.refuse(Reject::OutsideWindow),
            Place::Repeat => {
                self.measures.statistics.add(Counter::Repeats, 1);
                if holds(137) {
                    self.acknowledge_now();
                }
                if !holds(38) {
                    self.find(class, received, 0);
                }
            }
            Place::Next | Place::Ahead if received.span.is_empty() => {
                self.inbox.settle(number);
                self.acknowledge_now();
            }
            Place::Ahead if WINDOW > 1 && class == Class::Errand && holds(39) => self.hold(received),
            Place::Next | Place::Ahead => self.find(class, received, 0),
        }
    }

    /// Keeps an errand that has overtaken an earlier one.
    fn hold(&mut self, received: Received<'_>) {
        let arrived = *self.receiver.since;
        if self.inbox.hold(received.header.number, arrived, self.receiver.octets(received.span)) {
            self.acknowledge_now();
        } else {
            self.refuse(Reject::NoRoom);
        }
    }

    /// An acknowledgement is owed at once: something is missing or was repeated.
    pub(super) fn acknowledge_now(&mut self) {
        self.timers.ack = Timer::DUE;
    }

    /// An acknowledgement is owed; it may wait for a frame to ride along on.
    pub(super) fn acknowledge_soon(&mut self) {
        self.timers.ack = self.timers.ack.no_later_than(self.stated.ack_delay);
    }
}
