//! The books of all messages, kept beside the links: what was accepted, what went onto the line, what arrived, what was told.

use bellwire::{
    frame::{Class, Reject},
    link::{EndReason, Event, Message, Outcome},
};

use super::breach::{Breach, Checked, Property, must};

/// A session as it really is: the own era and that of the peer.
pub type Pair = (u8, u8);

/// Message numbers of the boards' program.
pub const SET_POINT: u8 = 1;
pub const NUDGE: u8 = 5;
pub const STREAM: u8 = 8;
pub const ITEM: u8 = 9;

/// A message that was accepted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
struct Entry {
    from: usize,
    class: Class,
    session: Pair,
    /// `None` once nobody waits for the outcome: told, or the sender has restarted.
    ticket: Option<u16>,
    /// It went onto the line.
    sent: bool,
    arrived: bool,
    /// The sender gave it up: a void went in its place.
    given_up: bool,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash, Default)]
pub struct Books {
    /// Each board's era: a new one begins with every start and with every end of a session, whatever numbers the link takes.
    eras: [u8; 2],
    /// The era of the sender of the frame that arrives.
    pub arriving: u8,
    /// The session that each board was last told of.
    pub sessions: [Option<Pair>; 2],
    /// Message n stands at place n - 1.
    entries: Vec<Entry>,
    /// The last errand and the last set-point that arrived at each board.
    last_errand: [u8; 2],
    last_set_point: [u8; 2],
    /// Errands of a stream that have arrived; `None` outside a stream.
    pub stream: Option<u8>,
}

/// How a board stands when it tells an event.
pub struct Scene {
    pub who: usize,
    /// A time-out never comes too early and few frames are lost.
    pub punctual: bool,
    pub ordered: bool,
}

impl Books {
    /// The number of the next message.
    pub fn next(&self) -> u8 {
        u8::try_from(self.entries.len() + 1).expect("few messages")
    }

    /// The era in which a frame leaves; an OPEN may already speak for the next one.
    pub fn era(&self, who: usize, ahead: bool) -> u8 {
        self.eras[who] + u8::from(ahead)
    }

    pub fn accept(&mut self, from: usize, class: Class, ticket: u16) {
        let session = self.sessions[from].expect("an open session");
        let ticket = class.is_confirmed().then_some(ticket);
        let entry = Entry { from, class, session, ticket, sent: false, arrived: false, given_up: false };
        self.entries.push(entry);
    }

    /// Items of a board that still wait for their outcome.
    pub fn waiting(&self, who: usize) -> usize {
        self.entries.iter().filter(|entry| entry.from == who && entry.ticket.is_some()).count()
    }

    /// The last set-point that arrived at a board.
    pub fn last_set_point(&self, who: usize) -> u8 {
        self.last_set_point[who]
    }

    /// A message of the session that this board has open.
    pub fn is_of_session(&self, who: usize, number: u8) -> bool {
        let sent = self.entries[usize::from(number) - 1].session;
        self.sessions[who] == Some((sent.1, sent.0))
    }

    pub fn goes_onto_the_line(&mut self, payload: &[u8]) {
        if let [SET_POINT | ITEM, number @ 1..=u8::MAX, ..] = payload {
            self.entries[usize::from(*number) - 1].sent = true;
        }
    }

    /// The message that an outcome is for.
    pub fn number(&self, who: usize, event: &Event<'_>) -> Option<usize> {
        let Event::Outcome { ticket, .. } = event else { return None };
        let of_ticket = |entry: &Entry| entry.from == who && entry.ticket == Some(ticket.get());
        self.entries.iter().position(of_ticket).map(|at| at + 1)
    }

    /// A board forgets everything.
    pub fn restart(&mut self, who: usize) {
        self.sessions[who] = None;
        // Beyond the next era, for which an OPEN may have spoken.
        self.eras[who] += 8;
        for entry in self.entries.iter_mut().filter(|entry| entry.from == who) {
            entry.ticket = None;
        }
    }

    /// A board tells something.
    pub fn hear(&mut self, scene: &Scene, event: &Event<'_>) -> Checked {
        match event {
            Event::Opened(_) => self.sessions[scene.who] = Some((self.eras[scene.who], self.arriving)),
            Event::Ended(reason) => return self.ended(scene, *reason),
            Event::Message(message) => return self.arrived(scene, message),
            Event::Outcome { ticket, outcome } => return self.outcome(scene, ticket.get(), *outcome),
            Event::Refused(Reject::OutsideWindow | Reject::BadAcknowledgement | Reject::NoRoom)
                if scene.ordered =>
            {
                return Err(Breach::new(Property::Memory, format!("{event:?} on a wire that keeps order")));
            }
            _ => {}
        }
        Ok(())
    }

    fn ended(&mut self, scene: &Scene, reason: EndReason) -> Checked {
        self.eras[scene.who] += 1;
        let Some((_, theirs)) = self.sessions[scene.who].take() else {
            return Err(Breach::new(Property::LiveSession, "a session ended that was not open"));
        };
        if !matches!(reason, EndReason::PeerRestarted(_)) {
            return Ok(());
        }
        let live = theirs == self.eras[1 - scene.who];
        must(!live, Property::LiveSession, || "the session was live".into())
    }

    fn arrived(&mut self, scene: &Scene, message: &Message<'_>) -> Checked {
        let who = scene.who;
        match message.payload {
            [NUDGE, ..] => return Ok(()),
            [STREAM, place] if self.stream == Some(*place) => {
                self.stream = Some(place + 1);
                return Ok(());
            }
            [STREAM, place] => {
                return Err(Breach::new(Property::Once, format!("errand {place} of a stream again")));
            }
            _ => {}
        }
        let [_, number @ 1..=u8::MAX, ..] = *message.payload else {
            return Err(Breach::new(Property::Once, format!("{message:?} was never sent")));
        };
        must(self.is_of_session(who, number), Property::OwnSession, || {
            format!("message {number} was sent in another session")
        })?;
        let entry = &mut self.entries[usize::from(number) - 1];
        let doubled_notice = message.class == Class::Notice && !scene.ordered;
        must(!entry.arrived || doubled_notice, Property::Once, || format!("message {number} arrived again"))?;
        entry.arrived = true;
        match message.class {
            Class::Errand => self.errand(who, number),
            Class::SetPoint => {
                let last = std::mem::replace(&mut self.last_set_point[who], number);
                must(number > last, Property::NewestWins, || format!("set-point {number} after {last}"))
            }
            Class::Report | Class::Notice => Ok(()),
        }
    }

    fn errand(&mut self, who: usize, number: u8) -> Checked {
        let last = std::mem::replace(&mut self.last_errand[who], number);
        must(number > last, Property::InOrder, || format!("errand {number} after {last}"))?;
        let (earlier, rest) = self.entries.split_at(usize::from(number) - 1);
        let now = &rest[0];
        let passed_over = earlier.iter().position(|entry| {
            let before = entry.class == Class::Errand && entry.from == now.from;
            before && entry.session == now.session && !entry.arrived && !entry.given_up
        });
        must(passed_over.is_none(), Property::InOrder, || {
            format!("errand {number} arrived before errand {}", passed_over.map_or(0, |at| at + 1))
        })
    }

    fn outcome(&mut self, scene: &Scene, ticket: u16, outcome: Outcome) -> Checked {
        let of_ticket = |entry: &&mut Entry| entry.from == scene.who && entry.ticket == Some(ticket);
        let Some(entry) = self.entries.iter_mut().find(of_ticket) else {
            // Of a stream: those are all delivered at once.
            let stream = self.stream.is_some() && outcome == Outcome::Delivered;
            return must(stream, Property::OneOutcome, || format!("{outcome:?} for nothing that waits"));
        };
        entry.ticket = None;
        let Entry { sent, arrived, .. } = *entry;
        match outcome {
            Outcome::Delivered => must(arrived, Property::Delivered, || "it never arrived".into()),
            Outcome::NotSent(_) => must(!sent, Property::NotSent, || "`not sent`, and it was sent".into()),
            Outcome::Unknown => {
                entry.given_up = true;
                must(sent, Property::NotSent, || "`unknown`, and it was never sent".into())?;
                must(!scene.punctual, Property::EnoughTries, || "the outcome is `unknown`".into())
            }
        }
    }
}
