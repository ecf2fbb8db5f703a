//! Octets in, events out.

use super::{Leaf, LeafEvent, ToAll, framing::is_to_all};
use crate::{
    fcs::Fcs,
    frame::{Ack, Class, Header, MessageNumber, Reject, View},
    framing::{Fed, Framing, Step},
    link::{Event, Message},
    star::{
        Answer, Told, Welcome,
        extended::{EXTENDED, TURN},
    },
    stats::Counter,
    time::{Instant, elapsed},
};

/// What a frame is, by its first octets.
enum What {
    Welcome(Option<Welcome>),
    Told(Option<Told>),
    /// The turn, with nothing to say; whether its body is empty.
    Turn(bool),
    ToAll,
    OfLink,
}

fn what(frame: &[u8]) -> What {
    match *frame {
        [EXTENDED, Welcome::CODE, ref body @ ..] => What::Welcome(Welcome::parse(body)),
        [EXTENDED, Told::CODE, ref body @ ..] => What::Told(Told::parse(body)),
        [EXTENDED, TURN, ref body @ ..] => What::Turn(body.is_empty()),
        [control, ..] if is_to_all(control) => What::ToAll,
        _ => What::OfLink,
    }
}

impl<F: Framing, C: Fcs, const FRAME: usize, const WINDOW: usize, const QUEUE: usize>
    Leaf<F, C, FRAME, WINDOW, QUEUE>
{
    /// Takes octets that arrived from the medium at `arrived`; gives how many are done with.
    ///
    /// It stops after an octet that completes something to tell or to answer: drain [`poll_event`](Self::poll_event), then feed the rest. While an event waits it takes
    /// none. On a medium of datagrams `octets` is one whole datagram. Frames between others are skipped without a word, and so is the own echo (W-62).
    #[must_use]
    pub fn handle_octets(&mut self, arrived: Instant, octets: &[u8]) -> usize {
        if self.has_event() {
            return 0;
        }
        self.take_address();
        let before = self.link.last();
        let Fed { consumed, step } = self.link.feed(arrived, octets);
        self.elapse(elapsed(self.link.last(), before));
        match step {
            Step::Frame { start, len } => self.handle_frame(start, len),
            step => self.link.handle_feed(step),
        }
        consumed
    }

    /// A checked frame in the buffer of the link.
    fn handle_frame(&mut self, start: usize, len: usize) {
        let what = what(self.link.frame(start, len));
        self.given |= !matches!(what, What::ToAll | What::Welcome(_));
        let is_read = match what {
            What::OfLink => {
                self.look_for_more(start, len);
                return self.link.handle_feed(Step::Frame { start, len });
            }
            What::ToAll => return self.handle_to_all(start, len),
            What::Turn(is_empty) => is_empty,
            What::Told(told) => told.map(|told| self.to_all.handle_told(told)).is_some(),
            What::Welcome(welcome) => welcome.map(|welcome| self.handle_welcome(&welcome)).is_some(),
        };
        if is_read {
            self.link.count_received();
            self.link.hear_valid();
        } else {
            self.link.tell_refused(Reject::BadLength);
        }
    }

    fn handle_welcome(&mut self, welcome: &Welcome) {
        if self.joining.handle(welcome) {
            let now = self.link.last();
            self.link.close(now);
            self.link.reopen(now);
        }
    }

    /// Whether the hub says that more waits for this leaf (W-16, bit 7 of *held*).
    fn look_for_more(&mut self, start: usize, len: usize) {
        let Ok((header, _)) = Header::read(self.link.frame(start, len), !F::ORDERED) else { return };
        if let Some(Ack { held, .. }) = header.ack.filter(|_| self.link.is_in_session(&header)) {
            self.more = held.is_some_and(|held| held & 0x80 != 0);
        }
    }

    fn handle_to_all(&mut self, start: usize, len: usize) {
        let heard = View::parse(self.link.frame(start, len), !F::ORDERED).and_then(|view| {
            let class = view.header.kind.class().ok_or(Reject::NotForUs)?;
            let missed = self.to_all.hear(&view)?;
            let skipped = len.saturating_sub(view.payload.len());
            let (start, len) = (start.saturating_add(skipped), view.payload.len());
            Ok(ToAll { class, number: view.header.number, missed, start, len })
        });
        match heard {
            Ok(found) => {
                let counter = if found.class == Class::SetPoint {
                    Counter::SetPointsLost
                } else {
                    Counter::NoticesLost
                };
                self.link.count_received();
                self.link.count_lost(counter, found.missed);
                self.found = Some(found);
            }
            Err(reject) => self.link.tell_refused(reject),
        }
    }

    /// Whether [`poll_event`](Self::poll_event) has something to give.
    #[must_use]
    pub fn has_event(&self) -> bool {
        self.joining.has_news() || self.link.has_event() || self.found.is_some()
    }

    /// The next event, oldest first; payloads are borrowed until the next call.
    ///
    /// A confirmed message counts as handed over, and is acknowledged, once this has given it (W-39).
    #[must_use]
    pub fn poll_event(&mut self) -> Option<LeafEvent<'_>> {
        match self.joining.news() {
            Some(Answer::Seated(own)) => return Some(LeafEvent::Joined(own)),
            Some(answer) => return Some(LeafEvent::NotJoined(answer)),
            None => {}
        }
        if self.link.has_event() {
            return self.poll_link();
        }
        let ToAll { class, number, missed, start, len } = self.found.take()?;
        let payload = self.link.frame(start, len);
        let message = MessageNumber::of(payload)?;
        let arrived = self.link.arrived();
        Some(LeafEvent::ToAll(Message { class, number, message, payload, arrived, missed }))
    }

    /// What the link tells; what goes to all is taken in its sessions only.
    fn poll_link(&mut self) -> Option<LeafEvent<'_>> {
        let is_up = self.link.is_up();
        let event = self.link.poll_event()?;
        match event {
            Event::Opened(peer) => {
                self.to_all.opened(peer.session);
                self.joining.opened();
            }
            Event::Ended(_) => {
                self.to_all.ended();
                self.found = None;
                self.more = false;
                self.joining.ended(is_up);
            }
            _ => {}
        }
        Some(LeafEvent::Link(event))
    }
}
