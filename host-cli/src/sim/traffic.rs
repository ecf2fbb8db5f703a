//! A program that sends numbered messages of all classes at random times, and journals what it was told.

use super::board::Program;
use super::books::{Books, Fate};
use super::moment::Moment;
use super::seed::Dice;
use crate::machine::Machine;
use bellwire::frame::Class;
use bellwire::link::{Event, Outcome, Ticket};
use core::time::Duration;
use std::collections::BTreeMap;

/// What a [`Traffic`] sends.
#[derive(Debug, Clone, PartialEq)]
pub struct Load {
    /// When the first message is due.
    pub from: Moment,
    /// How many messages in all; confirmed or not.
    pub messages: u64,
    /// The mean pause between two messages; each pause lies between 0 and twice this. Zero only for confirmed classes, which fill the
    /// queue: then a message follows as soon as the link takes one.
    pub pause: Duration,
    /// The classes, each with the same odds.
    pub classes: Vec<Class>,
    /// The longest payload, at least [`SHORTEST`] octets; each has a length between that and this.
    pub longest: u16,
}

/// Octets of the shortest payload: message number, item, check.
pub const SHORTEST: u16 = 10;

/// One line of the journal of a [`Traffic`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Journal {
    /// The link took an item for sending in this session.
    Accepted {
        /// The item.
        item: u64,
        /// Its class.
        class: Class,
        /// The session number.
        session: u64,
    },
    /// The outcome of an item.
    Told {
        /// The item.
        item: u64,
        /// The outcome.
        fate: Fate,
    },
    /// The board started anew.
    Restarted,
    /// An item of the other side arrived in this session.
    Arrived {
        /// The item.
        item: u64,
        /// The session number.
        session: u64,
    },
    /// Damage got past the FCS: the payload is none that the other side made.
    Slipped,
}

/// What a [`Traffic`] calls to get a link each time its board starts; the number counts the starts from 0.
pub type MakeLink = Box<dyn FnMut(Moment, u32) -> Box<dyn Machine>>;

/// Sends numbered messages of all classes at random times, and journals what it was told.
///
/// A payload tells its item and carries a 32-bit check of its own, so that damage that gets past a 16-bit FCS is seen and not
/// taken for a fault of the link.
pub struct Traffic {
    load: Load,
    dice: Dice,
    make: MakeLink,
    boot: Duration,
    starts: u32,
    sent: u64,
    due: Moment,
    /// The link took no more; the next event may change that.
    blocked: bool,
    session: Option<u64>,
    under_way: BTreeMap<Ticket, u64>,
    journal: Vec<Journal>,
}

impl Traffic {
    /// A program with this load. Its board takes `boot` to start anew.
    #[must_use]
    pub fn new(load: Load, dice: Dice, boot: Duration, make: MakeLink) -> Self {
        Self {
            due: load.from,
            load,
            dice,
            make,
            boot,
            starts: 0,
            sent: 0,
            blocked: false,
            session: None,
            under_way: BTreeMap::new(),
            journal: Vec::new(),
        }
    }

    /// Takes the journal since the last call.
    pub fn take_journal(&mut self) -> Vec<Journal> {
        core::mem::take(&mut self.journal)
    }

    /// Messages that the link took so far.
    #[must_use]
    pub const fn sent(&self) -> u64 {
        self.sent
    }

    /// Sends no more from now on.
    pub const fn finish(&mut self) {
        self.load.messages = self.sent;
    }

    /// Whether all messages are taken and all outcomes told.
    #[must_use]
    pub fn is_done(&self) -> bool {
        self.sent >= self.load.messages && self.under_way.is_empty()
    }

    /// The session number, while a session is open.
    #[must_use]
    pub const fn session(&self) -> Option<u64> {
        self.session
    }

    fn payload(&mut self, class: Class) -> Vec<u8> {
        let more = u64::from(self.load.longest.saturating_sub(SHORTEST)) + 1;
        let length = SHORTEST + u16::try_from(self.dice.below(more)).unwrap_or(0);
        let mut payload = payload_of(class, self.sent);
        // Zeros and ones in plenty: what stuffing and COBS have their trouble with.
        payload.resize_with(usize::from(length), || match self.dice.below(4) {
            0 => 0,
            1 => 0x7E,
            _ => self.dice.octet(),
        });
        payload
    }

    fn pause(&mut self) -> Duration {
        let longest = u64::try_from(self.load.pause.as_nanos()).unwrap_or(u64::MAX / 2).saturating_mul(2);
        Duration::from_nanos(self.dice.below(longest.saturating_add(1)))
    }
}

/// FNV-1a over the head of a payload, 32 bits.
fn check(head: &[u8]) -> u32 {
    head.iter().fold(0x811C_9DC5, |hash, octet| (hash ^ u32::from(*octet)).wrapping_mul(0x0100_0193))
}

/// The shortest payload of an item, which [`item_of`] reads again.
#[must_use]
pub fn payload_of(class: Class, item: u64) -> Vec<u8> {
    let mut payload = vec![class as u8];
    payload.extend_from_slice(&item.to_le_bytes()[..5]);
    payload.extend_from_slice(&check(&payload).to_le_bytes());
    payload
}

/// The item in a payload, if it is one that a [`Traffic`] made.
#[must_use]
pub fn item_of(class: Class, payload: &[u8]) -> Option<u64> {
    let (head, rest) = payload.split_first_chunk::<6>()?;
    let (told, _) = rest.split_first_chunk::<4>()?;
    let [number, item @ ..] = head;
    if *number != class as u8 || u32::from_le_bytes(*told) != check(head) {
        return None;
    }
    Some(item.iter().rev().fold(0, |sum, octet| sum << 8 | u64::from(*octet)))
}

impl Program for Traffic {
    fn event(&mut self, _now: Moment, event: &Event<'_>) {
        self.blocked = false;
        match event {
            Event::Opened(peer) => self.session = Some(u64::from(peer.session)),
            Event::Ended(_) => self.session = None,
            Event::Outcome { ticket, outcome } => {
                let fate = match outcome {
                    Outcome::Delivered => Fate::Delivered,
                    Outcome::NotSent(_) => Fate::NotSent,
                    Outcome::Unknown => Fate::Unknown,
                };
                let item = self.under_way.remove(ticket).unwrap_or(u64::MAX);
                self.journal.push(Journal::Told { item, fate });
            }
            Event::Message(message) => {
                let session = self.session.unwrap_or(u64::MAX);
                let line = item_of(message.class, message.payload)
                    .map_or(Journal::Slipped, |item| Journal::Arrived { item, session });
                self.journal.push(line);
            }
            _ => {}
        }
    }

    fn work(&mut self, now: Moment, link: &mut dyn Machine) {
        while now >= self.due && !self.blocked && self.sent < self.load.messages {
            let Some(session) = self.session else { return };
            let index = usize::try_from(self.dice.below(self.load.classes.len() as u64)).unwrap_or(0);
            let Some(&class) = self.load.classes.get(index) else { return };
            let payload = self.payload(class);
            match link.send(now.instant(), class, &payload) {
                Ok(ticket) => {
                    self.journal.push(Journal::Accepted { item: self.sent, class, session });
                    if class.is_confirmed() {
                        self.under_way.insert(ticket, self.sent);
                    }
                    self.sent += 1;
                    self.due = now.plus(self.pause());
                }
                Err(_) => self.blocked = true,
            }
        }
    }

    fn wake(&self) -> Option<Moment> {
        let waits = self.sent < self.load.messages && self.session.is_some() && !self.blocked;
        waits.then_some(self.due)
    }

    fn start(&mut self, now: Moment) -> (Box<dyn Machine>, Moment) {
        if self.starts > 0 {
            self.journal.push(Journal::Restarted);
        }
        self.session = None;
        self.under_way.clear();
        let boot = if self.starts == 0 { Duration::ZERO } else { self.boot };
        let link = (self.make)(now, self.starts);
        self.starts += 1;
        (link, now.plus(boot))
    }
}

/// Books a journal: what this side sent into `out`, what reached it into `back`. Gives how much damage got past the FCS.
pub fn book(journal: &[Journal], out: &mut Books, back: &mut Books) -> u64 {
    let mut slipped = 0;
    for line in journal {
        match *line {
            Journal::Accepted { item, class, session } => out.accepted(item, class, session),
            Journal::Told { item, fate } => out.told(item, fate),
            Journal::Restarted => out.restarted(),
            Journal::Arrived { item, session } => back.arrived(item, session),
            Journal::Slipped => slipped += 1,
        }
    }
    slipped
}
