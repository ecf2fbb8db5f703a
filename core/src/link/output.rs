//! Events out, in their order: outcomes, what was refused, the session, what arrived.

use super::{
    Link,
    event::{Event, Message},
    item::Tell,
    news::Hearing,
    receiver::Found,
};
use crate::{
    fcs::Fcs,
    frame::{Class, MessageNumber},
    framing::Framing,
    link::Outcome,
    stats::{Counter, Counters},
};

impl<F: Framing, C: Fcs, const FRAME: usize, const WINDOW: usize, const QUEUE: usize>
    Link<F, C, FRAME, WINDOW, QUEUE>
{
    /// The next event, oldest first; payloads are borrowed until the next call.
    ///
    /// A confirmed message counts as handed over, and is acknowledged, once this has given it (W-39).
    #[must_use]
    #[inline(never)]
    pub fn poll_event(&mut self) -> Option<Event<'_>> {
        if !self.untold {
            return None;
        }
        // Whether more waits the next call sees.
        if let Some(news) = self.next_news() {
            return Some(news);
        }
        if let Some(found) = self.receiver.found.take() {
            self.hand_over(&found);
            return self.found(found);
        }
        if self.inbox.is_ready() {
            self.acknowledge_soon();
            let (number, arrived, payload) = self.inbox.hand_out()?;
            let message = MessageNumber::of(payload)?;
            let class = Class::Errand;
            return Some(Event::Message(Message { class, number, message, payload, arrived, missed: 0 }));
        }
        self.untold = false;
        None
    }

    /// Outcomes and what happened to the session.
    fn next_news(&mut self) -> Option<Event<'static>> {
        if let Some((ticket, tell)) = self.outbox.news() {
            match tell {
                Tell::Nothing => {}
                Tell::Resent(tries) => return Some(Event::Resent { ticket, tries }),
                Tell::Outcome(outcome) => {
                    self.count(outcome);
                    return Some(Event::Outcome { ticket, outcome });
                }
            }
        }
        if let Some(reject) = self.news.next_refused() {
            return Some(Event::Refused(reject));
        }
        if let Some(reason) = self.news.ended.take() {
            return Some(Event::Ended(reason));
        }
        if core::mem::take(&mut self.news.mismatch) {
            return Some(Event::Mismatch { ours: self.our_terms(), theirs: self.far.terms() });
        }
        if core::mem::take(&mut self.news.opened) {
            return self.peer().map(Event::Opened);
        }
        if let Some(hearing) = self.news.hearing.take() {
            return Some(match hearing {
                Hearing::Quiet => Event::Quiet,
                Hearing::Resumed => Event::Resumed,
            });
        }
        None
    }

    fn count(&mut self, outcome: Outcome) {
        let counter = match outcome {
            Outcome::Delivered => Counter::Delivered,
            Outcome::Unknown => Counter::Unknown,
            Outcome::NotSent(_) => Counter::NotSent,
        };
        self.measures.statistics.add(counter, 1);
    }

    /// A confirmed message passes to the application now.
    fn hand_over(&mut self, found: &Found) {
        if let Found::Message { class: Class::Errand | Class::Report, number, .. } = *found {
            self.inbox.settle(number);
            self.acknowledge_soon();
        }
    }

    fn found(&self, found: Found) -> Option<Event<'_>> {
        match found {
            Found::Message { class, number, missed, span } => {
                let payload = self.receiver.octets(span);
                let message = MessageNumber::of(payload)?;
                let arrived = *self.receiver.since;
                Some(Event::Message(Message { class, number, message, payload, arrived, missed }))
            }
            Found::Text(span) => Some(Event::Text(self.receiver.octets(span))),
            Found::Statistics(span) => Counters::parse(self.receiver.octets(span)).map(Event::PeerStatistics),
            Found::ProbeAnswer { id, round_trip } => {
                Some(Event::ProbeAnswer { id, round_trip: round_trip.0 })
            }
        }
    }
}
