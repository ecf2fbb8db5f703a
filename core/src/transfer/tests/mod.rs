//! A desk that sends to a mast, in steps: each side can be restarted at any of them, and every message is counted.

mod attacks;
mod bodies;
mod cuts;
mod exact;
mod random;
mod stranger;

use super::*;
use crate::{retry::Policy, time::Duration};
use std::{collections::VecDeque, vec, vec::Vec};

const MS: u32 = 1_000;
const PACE: Pace = Pace {
    time_out: Duration::from_ticks(50 * MS),
    policy: Policy { tries: Some(5), ceiling: 1_000 * MS, spread: 64 },
    seed: 7,
};

fn limits(window: u8) -> Limits {
    Limits { largest: 4_096, part: 64, window, patience: Duration::from_ticks(60_000 * MS) }
}

fn content(size: u32) -> Vec<u8> {
    (0..size).map(|place| u8::try_from((place * 31 + place / 256) & 0xFF).unwrap()).collect()
}

fn offer(number: u8, content: &[u8], part: u16) -> Offer {
    let size = u32::try_from(content.len()).unwrap();
    Offer { number, crc: crc_of(content), size, part, topic: 3 }
}

fn sender(offer: Offer) -> Sender {
    Sender::new(offer, PACE).expect("a sound offer")
}

/// The next body that a sender sends.
fn sends(sender: &mut Sender, content: &[u8]) -> Option<Vec<u8>> {
    let mut out = [0; 80];
    let len = sender.poll_transmit(&mut out, |place, cell| {
        cell.copy_from_slice(&content[place.start as usize..place.end as usize]);
        true
    })?;
    Some(out[..len].to_vec())
}

fn answers(receiver: &mut Receiver) -> Option<Vec<u8>> {
    let mut out = [0; MAP_LEN];
    receiver.poll_transmit(&mut out).map(|len| out[..len].to_vec())
}

fn write(message: Message<'_>) -> Vec<u8> {
    let mut out = [0; 80];
    let len = message.write(&mut out).expect("room");
    out[..len].to_vec()
}

/// A board that stores each part and saves its state behind it; both survive a restart.
#[derive(Clone)]
struct Mast {
    receiver: Receiver,
    store: Vec<u8>,
    saved: [u8; SAVED_LEN],
    whole: u32,
    window: u8,
}

impl Mast {
    fn new(window: u8) -> Self {
        let receiver = Receiver::new(limits(window));
        Self { saved: receiver.save(), receiver, store: vec![0; 4_096], whole: 0, window }
    }

    fn restart(&mut self) {
        self.receiver = Receiver::restore(limits(self.window), &self.saved).expect("its own state");
    }

    /// Takes a body; `dies`: the power fails before a part that came with it is stored.
    fn take(&mut self, body: &[u8], dies: bool) {
        match self.receiver.handle(body) {
            Ok(Input::Offered(_)) => self.receiver.accept(),
            Ok(Input::Store { .. }) if dies => {}
            Ok(Input::Store { index, at, octets }) => {
                let at = at as usize;
                self.store[at..at + octets.len()].copy_from_slice(octets);
                self.receiver.stored(index);
            }
            _ => {}
        }
        if self.receiver.state() == State::Checking {
            let size = self.receiver.offer().unwrap().size as usize;
            self.whole += u32::from(self.receiver.checked(crc_of(&self.store[..size])));
        }
        if dies {
            self.restart();
        } else {
            self.saved = self.receiver.save();
        }
    }
}

/// How many of each went over the line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
struct Count {
    offers: u32,
    parts: u32,
    asks: u32,
    maps: u32,
    others: u32,
}

impl Count {
    fn enter(&mut self, body: &[u8]) {
        let cell = match Message::parse(body).expect("our own") {
            Message::Offer { .. } => &mut self.offers,
            Message::Part { .. } => &mut self.parts,
            Message::Ask { .. } => &mut self.asks,
            Message::Map { .. } => &mut self.maps,
            _ => &mut self.others,
        };
        *cell += 1;
    }

    fn all(&self) -> u32 {
        self.offers + self.parts + self.asks + self.maps + self.others
    }
}

/// What is cut, just after so many messages have been sent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Cut {
    Nothing,
    /// The desk restarts; what it sent last arrives, or is lost with it.
    Desk {
        loses: bool,
    },
    /// The mast restarts; what was sent last arrives before, is lost, or arrives and is not yet stored.
    Mast {
        loses: bool,
        stores: bool,
    },
}

/// Runs one transfer to its end over a line without faults but the cut.
fn run(content: &[u8], window: u8, after: u32, cut: Cut) -> (Count, Mast) {
    let offer = offer(1, content, 16);
    let (mut desk, mut mast, mut count) = (sender(offer), Mast::new(window), Count::default());
    let (mut out, mut back) = (VecDeque::<Vec<u8>>::new(), VecDeque::<Vec<u8>>::new());
    for _ in 0..10_000 {
        if desk.outcome().is_some() {
            assert_eq!(desk.outcome(), Some(Outcome::Delivered));
            return (count, mast);
        }
        let sent = if let Some(body) = answers(&mut mast.receiver) {
            back.push_back(body.clone());
            Some(body)
        } else if let Some(body) = sends(&mut desk, content) {
            out.push_back(body.clone());
            Some(body)
        } else {
            desk.elapse(desk.poll_wake().expect("not over"));
            None
        };
        if let Some(body) = &sent {
            count.enter(body);
        }
        let now = sent.is_some() && count.all() == after;
        let loses = matches!(cut, Cut::Desk { loses: true } | Cut::Mast { loses: true, .. });
        if now && loses {
            out.clear();
            back.clear();
        }
        let dies = now && matches!(cut, Cut::Mast { stores: false, .. });
        out.drain(..).for_each(|body: Vec<u8>| mast.take(&body, dies));
        for body in back.drain(..) {
            let _ = desk.handle(&body);
        }
        match cut {
            Cut::Desk { .. } if now => desk = sender(offer),
            Cut::Mast { .. } if now => mast.restart(),
            _ => {}
        }
    }
    panic!("never ends: {count:?} {desk:?} {:?}", mast.receiver);
}
