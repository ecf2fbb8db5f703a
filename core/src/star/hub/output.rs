//! Events out, in their order: outcomes, then the news of one leaf, then what arrived from it.

use super::{Hub, HubEvent, flags::Flag, place};
use crate::{
    fcs::Fcs,
    frame::{Class, MessageNumber},
    framing::Framing,
    link::{Event, Message, Outcome, Ticket, receiver::Found},
    seq::Serial,
    stats::Counter,
};

impl<F: Framing, C: Fcs, const LEAVES: usize, const POOL: usize, const FRAME: usize>
    Hub<F, C, LEAVES, POOL, FRAME>
{
    /// The next event, and of which leaf; payloads are borrowed until the next call.
    ///
    /// A confirmed message counts as handed over, and is acknowledged, once this has given it (W-39).
    #[must_use]
    #[inline(never)]
    pub fn poll_event(&mut self) -> Option<HubEvent<'_>> {
        if !self.common.has_news() {
            self.run_down();
        }
        if let Some((item, outcome)) = self.common.pool.tell() {
            let counter = match outcome {
                Outcome::Delivered => Counter::Delivered,
                Outcome::Unknown => Counter::Unknown,
                Outcome::NotSent(_) => Counter::NotSent,
            };
            self.common.statistics.add(counter, 1);
            let event = Event::Outcome { ticket: Ticket(item.ticket), outcome };
            return Some(HubEvent { leaf: Some(item.leaf), event });
        }
        let leaf = Some(self.common.news.leaf).filter(|&leaf| leaf > 0);
        let terms = self.common.terms();
        if let Some(event) = self.common.news.next(|| terms) {
            return Some(HubEvent { leaf, event });
        }
        let found = self.common.receiver.found.take()?;
        self.hand_over(leaf, &found);
        self.found(found).map(|event| HubEvent { leaf, event })
    }

    /// Whether [`poll_event`](Self::poll_event) has something to give: for a caller that must not borrow the hub to find out.
    #[must_use]
    pub fn has_event(&self) -> bool {
        self.common.has_news()
    }

    /// A confirmed message passes to the application now.
    fn hand_over(&mut self, leaf: Option<u8>, found: &Found) {
        let Found::Message { class: Class::Errand | Class::Report, number, .. } = *found else { return };
        let Some(place) = leaf.and_then(place) else { return };
        if let Some(lane) = self.lanes.get_mut(place).filter(|lane| lane.has(Flag::Present)) {
            lane.take_number(Serial::new(number));
            self.settle(place);
        }
    }

    fn found(&self, found: Found) -> Option<Event<'_>> {
        let receiver = &self.common.receiver;
        match found {
            Found::Message { class, number, missed, span } => {
                let payload = receiver.octets(span);
                let message = MessageNumber::of(payload)?;
                let arrived = *receiver.since;
                Some(Event::Message(Message { class, number, message, payload, arrived, missed }))
            }
            Found::Text(span) => Some(Event::Text(receiver.octets(span))),
            Found::Statistics(_) | Found::ProbeAnswer { .. } => None,
        }
    }
}
