//! A long transfer with a stranger on the line, driven by a list of operations. Oracles: what is stored lies where the content has it and is never replaced, each
//! body makes at most one short answer, what is taken as whole is the content, and once the stranger is gone a new transfer gets through.

use bellwire::{
    retry::Policy,
    time::Duration,
    transfer::{Input, Limits, MAP_LEN, Offer, Outcome, PART_HEAD, Pace, Receiver, Sender, State, crc_of},
};
use std::collections::{BTreeMap, VecDeque};

const PART: u16 = 16;
const LARGEST: u32 = 600;
const PATIENCE: u32 = 2_000_000;

/// The first octet chooses the size, the second the window; then operations: what, and how much or how many octets of the stranger follow.
///
/// # Panics
/// If a promise is broken.
pub fn transfer(data: &[u8]) {
    let Some(([size, window], mut operations)) = data.split_first_chunk::<2>() else { return };
    let mut run = Run::new(u32::from(*size) * 2 + 1, *window);
    for _ in 0..400 {
        let Some((&[what, amount], rest)) = operations.split_first_chunk::<2>() else { break };
        operations = run.perform(what, amount, rest);
    }
    run.settle();
}

struct Run {
    content: Vec<u8>,
    offer: Offer,
    sender: Sender,
    receiver: Receiver,
    limits: Limits,
    /// What is stored of the offer that is being taken, by part.
    stored: BTreeMap<u32, Vec<u8>>,
    out: VecDeque<Vec<u8>>,
    back: VecDeque<Vec<u8>>,
    wholes: u32,
}

fn made(offer: Offer) -> Sender {
    let policy = Policy { tries: Some(4), ceiling: 1_000_000, spread: 64 };
    Sender::new(offer, Pace { time_out: Duration::from_ticks(50_000), policy, seed: 5 })
        .expect("a sound offer")
}

impl Run {
    fn new(size: u32, window: u8) -> Self {
        let content: Vec<u8> =
            (0..size).flat_map(|place| (place * 37 % 251).to_le_bytes().into_iter().take(1)).collect();
        let offer = Offer { number: 1, crc: crc_of(&content), size, part: PART, topic: 0 };
        let limits = Limits { largest: LARGEST, part: 32, window, patience: Duration::from_ticks(PATIENCE) };
        Self {
            content,
            offer,
            sender: made(offer),
            receiver: Receiver::new(limits),
            limits,
            stored: BTreeMap::new(),
            out: VecDeque::new(),
            back: VecDeque::new(),
            wholes: 0,
        }
    }

    /// Performs one operation; gives what is left of the input.
    fn perform<'a>(&mut self, what: u8, amount: u8, rest: &'a [u8]) -> &'a [u8] {
        match what & 15 {
            0..=4 => self.step(),
            5 => drop(self.out.pop_front()),
            6 => drop(self.back.pop_front()),
            7 => self.out.extend(self.out.front().cloned()),
            8 => self.sender = made(self.offer),
            9 => {
                self.receiver = Receiver::restore(self.limits, &self.receiver.save()).expect("its own state")
            }
            10 => {
                let span = Duration::from_ticks(u32::from(amount) * 10_000);
                self.sender.elapse(span);
                self.receiver.elapse(span);
            }
            11 => self.sender.again(),
            12 => {
                // A true body with one octet changed.
                if let Some(octet) = self.out.front_mut().and_then(|body| {
                    let len = body.len();
                    body.get_mut(usize::from(what >> 4) % len)
                }) {
                    *octet ^= amount;
                }
            }
            _ => {
                let (body, rest) = rest.split_at(rest.len().min(usize::from(amount & 31)));
                self.take(body);
                let _ = self.sender.handle(body);
                return rest;
            }
        }
        rest
    }

    fn step(&mut self) {
        let mut cell = [0; PART_HEAD + PART as usize];
        let content = &self.content;
        let sent = self.sender.poll_transmit(&mut cell, |place, out| {
            out.copy_from_slice(&content[place.start as usize..place.end as usize]);
            true
        });
        self.out.extend(sent.map(|len| cell[..len].to_vec()));
        match (self.out.pop_front(), self.back.pop_front()) {
            (None, None) => {
                if let Some(wake) = self.sender.poll_wake() {
                    self.sender.elapse(wake);
                    self.receiver.elapse(wake);
                }
            }
            (out, back) => {
                out.iter().for_each(|body| self.take(body));
                if let Some(body) = &back {
                    let _ = self.sender.handle(body);
                }
            }
        }
    }

    fn take(&mut self, body: &[u8]) {
        match self.receiver.handle(body) {
            Ok(Input::Offered(offer)) => {
                assert!(
                    offer.size <= LARGEST && offer.part <= 32,
                    "{offer:?} is larger than there is room for"
                );
                self.stored.clear();
                self.receiver.accept();
            }
            Ok(Input::Store { index, at, octets }) => {
                let offer = *self.receiver.offer().expect("an offer");
                let end = at as usize + octets.len();
                assert_eq!(at, index * u32::from(offer.part));
                assert!(
                    end == offer.size as usize
                        || (octets.len() == usize::from(offer.part) && end < offer.size as usize)
                );
                assert!(self.stored.insert(index, octets.to_vec()).is_none(), "part {index} is replaced");
                self.receiver.stored(index);
            }
            _ => {}
        }
        if self.receiver.state() == State::Checking {
            let offer = *self.receiver.offer().expect("an offer");
            let whole: Vec<u8> = self.stored.values().flatten().copied().collect();
            assert_eq!(whole.len(), offer.size as usize, "whole, and yet not");
            let good = self.receiver.checked(crc_of(&whole));
            assert_eq!(good, crc_of(&whole) == offer.crc);
            if offer == self.offer && good {
                assert_eq!(whole, self.content);
                self.wholes += 1;
            }
        }
        let progress = self.receiver.progress().map_or(0, |progress| progress.held);
        assert!(progress <= LARGEST);
        let mut out = [0; 64];
        let answer = self.receiver.poll_transmit(&mut out);
        assert!(answer.is_none_or(|len| len <= MAP_LEN) && self.receiver.poll_transmit(&mut out).is_none());
        self.back.extend(answer.map(|len| out[..len].to_vec()));
    }

    /// The stranger is gone and the line is whole: another transfer gets through, at the latest when the patience has passed.
    fn settle(&mut self) {
        self.out.clear();
        self.back.clear();
        let last =
            [self.receiver.offer(), self.receiver.finished()].map(|offer| offer.map(|offer| offer.number));
        self.offer.number = (0..=255).find(|number| !last.contains(&Some(*number))).expect("three numbers");
        self.receiver.elapse(Duration::from_ticks(PATIENCE));
        self.sender = made(self.offer);
        let before = self.wholes;
        for _ in 0..2_000 {
            if self.sender.outcome().is_some() {
                break;
            }
            self.step();
        }
        assert_eq!(self.sender.outcome(), Some(Outcome::Delivered), "{:?} {:?}", self.sender, self.receiver);
        assert_eq!(self.wholes, before + 1);
    }
}
