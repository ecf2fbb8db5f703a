//! The desk: an operator's wishes made into set-points and errands.

use super::{Act, Role, Send, earlier, is_due, ms};
use crate::observatory::{Alarm, Message, ShutterMove};
use bellwire::{
    link::{Event, Outcome, Ticket},
    time::{Duration, Instant, after},
};

/// Period of the set-points: one may be lost before the dome's limit of 500 ms is reached.
const PERIOD: Duration = ms(200);

/// The desk. While the link is up it streams the rate that the operator wants; when the session ends it lets go.
#[derive(Debug, Clone)]
pub struct Desk {
    rate: i16,
    up: bool,
    rate_at: Instant,
    errands: Vec<Message>,
    under_way: Vec<(Ticket, Message)>,
    told: Vec<String>,
    now: Instant,
}

impl Desk {
    /// A desk whose operator has let go.
    #[must_use]
    pub fn new(now: Instant) -> Self {
        let (errands, under_way, told) = (Vec::new(), Vec::new(), Vec::new());
        Self { rate: 0, up: false, rate_at: now, errands, under_way, told, now }
    }

    /// An order is for now: with the link down it is not kept for later, when it might surprise somebody.
    fn order(&mut self, words: &str, errand: Message) {
        self.told.push(format!("the operator {words}"));
        if self.up {
            self.errands.push(errand);
        } else {
            self.told.push("not sent, for certain: the link is down".to_owned());
        }
    }
}

/// What an errand is called beside its outcome.
fn words(message: &Message) -> &'static str {
    match message {
        Message::ReArm => "re-arm",
        Message::Shutter { action: ShutterMove::Open } => "shutter open",
        Message::Shutter { action: ShutterMove::Close } => "shutter close",
        _ => "errand",
    }
}

impl Role for Desk {
    fn name(&self) -> &'static str {
        "desk"
    }

    fn identity(&self) -> u64 {
        0x0B5E_0000_0000_DE5C
    }

    fn event(&mut self, now: Instant, event: &Event<'_>) {
        match event {
            Event::Opened(_) => {
                self.up = true;
                self.rate_at = now;
            }
            Event::Ended(_) => {
                self.up = false;
                if self.rate != 0 {
                    self.told.push("lets go of the rate: the session ended".to_owned());
                }
                self.rate = 0;
            }
            Event::Message(message) => match Message::from_payload(message.payload) {
                Some(Message::DomeAlarm { reason: Alarm::NoNews }) => {
                    self.told.push("hears that the dome stopped for want of news".to_owned());
                }
                Some(Message::DomeAlarm { reason: Alarm::Rain }) => {
                    self.told.push("hears that it rains on the dome".to_owned());
                }
                Some(Message::DomeAlarm { reason: Alarm::Limit }) => {
                    self.told.push("hears that the dome is at a limit switch".to_owned());
                }
                _ => {}
            },
            Event::Outcome { ticket, outcome } => {
                let Some(at) = self.under_way.iter().position(|(of, _)| of == ticket) else { return };
                let (_, errand) = self.under_way.remove(at);
                match outcome {
                    Outcome::Delivered => {}
                    Outcome::Unknown => {
                        self.told.push(format!("{}: outcome unknown, it may have arrived", words(&errand)));
                    }
                    Outcome::NotSent(_) => {
                        self.told.push(format!("{}: not sent, for certain", words(&errand)))
                    }
                }
            }
            _ => {}
        }
    }

    fn work(&mut self, now: Instant, send: &mut Send<'_>) {
        self.now = now;
        if !self.up {
            return;
        }
        for errand in core::mem::take(&mut self.errands) {
            match send(&errand) {
                Ok(ticket) => self.under_way.push((ticket, errand)),
                Err(error) => self.told.push(format!("{}: {error}", words(&errand))),
            }
        }
        if is_due(self.rate_at, now) {
            let _ = send(&Message::DomeRate { rate: self.rate });
            self.rate_at = after(now, PERIOD);
        }
    }

    fn poll_wake(&self) -> Option<Instant> {
        earlier(self.now, self.up.then_some(self.rate_at), None)
    }

    fn act(&mut self, _now: Instant, act: Act) {
        match act {
            Act::Drive(rate) => {
                self.told.push(if rate == 0 {
                    "the operator lets go: the rate is the stop value".to_owned()
                } else {
                    format!("the operator turns the dome at {:.2} °/s", f64::from(rate) / 100.0)
                });
                self.rate = rate;
            }
            Act::ReArm => self.order("re-arms the dome", Message::ReArm),
            Act::OpenShutter => {
                self.order("opens the shutter", Message::Shutter { action: ShutterMove::Open });
            }
            Act::CloseShutter => {
                self.order("closes the shutter", Message::Shutter { action: ShutterMove::Close });
            }
            Act::Focus(_) | Act::Lamp(_) | Act::Rain | Act::Dry => {}
        }
    }

    fn restart(&mut self, now: Instant) {
        *self = Self::new(now);
    }

    fn take_told(&mut self) -> Vec<String> {
        core::mem::take(&mut self.told)
    }
}
