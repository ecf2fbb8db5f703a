//! The desk's side of a link with a board that it does not steer all the time: it hands over errands, and to a sleeper when that is awake.

use super::{Act, Role, Send};
use crate::{messages::told, observatory::Message};
use bellwire::{
    link::{Event, Outcome, Ticket},
    star::{self, Fate, Mailbox, Seconds},
    time::{Instant, elapsed},
};

/// How long an errand waits for a sleeper, s.
const LIFE: Seconds = 60;

/// The desk's side of the link with one leaf.
#[derive(Debug, Clone)]
pub struct LineTo {
    leaf: &'static str,
    /// What waits for the leaf; one that never sleeps gets it at once.
    mailbox: Mailbox<8, 32>,
    sleeps: bool,
    up: bool,
    /// It has just spoken, so it listens.
    listens: bool,
    rain: bool,
    under_way: Vec<(Ticket, star::Ticket)>,
    told: Vec<String>,
    /// Whole seconds, and what is left of them, µs.
    clock: (Seconds, u32),
    at: Instant,
}

impl LineTo {
    /// The side of the leaf of this name; `sleeps`: it hears only what is sent right after it spoke.
    #[must_use]
    pub fn new(leaf: &'static str, sleeps: bool, now: Instant) -> Self {
        let (mailbox, under_way, told) = (Mailbox::new(), Vec::new(), Vec::new());
        Self {
            leaf,
            mailbox,
            sleeps,
            up: false,
            listens: false,
            rain: false,
            under_way,
            told,
            clock: (0, 0),
            at: now,
        }
    }

    fn elapse(&mut self, now: Instant) {
        let (seconds, rest) = &mut self.clock;
        let micros = u64::from(*rest) + u64::from(elapsed(now, self.at).as_ticks());
        *seconds = seconds.saturating_add(Seconds::try_from(micros / 1_000_000).unwrap_or(0));
        *rest = u32::try_from(micros % 1_000_000).unwrap_or(0);
        self.at = now;
        while let Some(letter) = self.mailbox.poll_expired(*seconds) {
            self.told.push(format!("not sent, for certain: {} waited too long", called(&letter.payload)));
        }
    }

    fn post(&mut self, words: String, errand: &Message) {
        self.told.push(format!("the operator {words}"));
        match self.mailbox.push(errand.class(), &errand.payload(), self.clock.0, LIFE) {
            Ok(_) if self.sleeps => {
                self.told.push(format!("the {} sleeps: the errand waits until it is heard", self.leaf));
            }
            Ok(_) => {}
            Err(why) => self.told.push(format!("not sent, for certain: {why:?}")),
        }
    }
}

fn called(payload: &[u8]) -> String {
    match Message::from_payload(payload) {
        Some(Message::Lamp { level }) => format!("lamp at {level} %"),
        Some(Message::FocuserGoto { position }) => format!("focuser to {position} µm"),
        _ => "an errand".to_owned(),
    }
}

impl Role for LineTo {
    fn name(&self) -> &'static str {
        "desk"
    }

    fn identity(&self) -> u64 {
        0x0B5E_0000_0000_DE5C
    }

    fn event(&mut self, now: Instant, event: &Event<'_>) {
        self.elapse(now);
        match event {
            Event::Opened(_) => (self.up, self.listens) = (true, true),
            Event::Ended(_) => (self.up, self.listens) = (false, false),
            Event::Message(message) => {
                self.listens = true;
                if let Some(Message::Weather { rain, .. }) = Message::from_payload(told(message.payload))
                    && rain != self.rain
                {
                    self.rain = rain;
                    let text = if rain { "that it rains" } else { "that the rain is over" };
                    self.told.push(format!("hears from the {} {text}", self.leaf));
                }
            }
            Event::Outcome { ticket, outcome } => {
                let Some(at) = self.under_way.iter().position(|(of, _)| of == ticket) else { return };
                let (_, letter) = self.under_way.remove(at);
                let fate = match outcome {
                    Outcome::Delivered => Fate::Confirmed,
                    Outcome::Unknown => Fate::Unknown,
                    Outcome::NotSent(_) => Fate::NotSent,
                };
                if fate == Fate::Unknown {
                    self.told.push("an errand's outcome is unknown, it may have arrived".to_owned());
                }
                self.mailbox.settle(letter, fate);
            }
            _ => {}
        }
    }

    fn work(&mut self, now: Instant, send: &mut Send<'_>) {
        self.elapse(now);
        if !self.up || self.sleeps && !self.listens {
            return;
        }
        self.listens = false;
        while let Some(letter) = self.mailbox.offer(self.clock.0) {
            let (name, errand) = (letter.ticket, Message::from_payload(&letter.payload));
            match errand.map(|errand| send(&errand)) {
                Some(Ok(ticket)) => self.under_way.push((ticket, name)),
                // It waits on, for the next time.
                _ => {
                    self.mailbox.settle(name, Fate::NotSent);
                    return;
                }
            }
        }
    }

    fn poll_wake(&self) -> Option<Instant> {
        None
    }

    fn act(&mut self, now: Instant, act: Act) {
        self.elapse(now);
        match act {
            Act::Focus(position) if self.leaf == "focuser" => {
                let position = u32::from(position);
                self.post(format!("focuses at {position} µm"), &Message::FocuserGoto { position });
            }
            Act::Lamp(level) if self.leaf == "porch" => {
                self.post(format!("wants the porch lamp at {level} %"), &Message::Lamp { level });
            }
            _ => {}
        }
    }

    fn restart(&mut self, now: Instant) {
        *self = Self::new(self.leaf, self.sleeps, now);
    }

    fn take_told(&mut self) -> Vec<String> {
        core::mem::take(&mut self.told)
    }
}
