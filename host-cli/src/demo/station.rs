//! One simulated board of the demo: a role, its link, and what is written down about both.

use super::seat::strength;
use crate::{
    boards::{Act, Role},
    endpoint::{FramingName, Wiring},
    machine::{Between, Machine, machine_between},
    observatory::FINGERPRINT,
    sim::{Dice, Fate, Moment, Program, traffic::Journal},
};
use bellwire::{
    frame::{Addresses, Class, Kind, ResetCause},
    link::{Config, EndReason, Event, Message, Outcome, OwnNumber, Ticket},
    radio::BothWays,
    star::addresses_of,
    time::{Duration as Duration32, LONGEST},
};
use core::time::Duration;
use std::collections::BTreeMap;

/// Bits per second on the demo's wire.
pub(super) const BAUD: u32 = 115_200;

/// The mast's address on the radio.
pub(super) const MAST: u8 = 3;
/// The porch's.
pub(super) const PORCH: u8 = 4;
/// Octets per second on the demo's radio.
pub(super) const AIR: u32 = 2_400;
/// How long a copy of a datagram lives there.
const LIFETIME: u32 = 500_000;

/// What a board talks over.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Over {
    /// A UART.
    Wire,
    /// The radio, with the other board's address.
    Radio(Between),
}

/// From the reset of a board to its first frame.
const BOOT: Duration = Duration::from_millis(250);

/// Whether a listener sees what the board receives.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Ear {
    /// The listener hears what the board hears, so the record shows what it refuses.
    Beside,
    /// The listener sits at the other end: what the board refuses must be told.
    Far,
}

/// What a board was doing before the run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Before {
    /// It was off: it boots first.
    Off,
    /// It has been on for long.
    On,
}

/// A board of the demo.
pub(super) struct Station {
    role: Box<dyn Role + core::marker::Send>,
    ear: Ear,
    before: Before,
    over: Over,
    /// What both ends of the radio link hear.
    both: BothWays,
    dice: Dice,
    starts: u32,
    now: Moment,
    session: Option<u64>,
    /// Confirmed items that the link took in this session; they are numbered in this order.
    accepted: u64,
    /// Confirmed items of the other side that came in this session: one more than the highest.
    heard: u64,
    under_way: BTreeMap<Ticket, u64>,
    journal: Vec<Journal>,
    told: Vec<(Moment, String)>,
    raw: Option<Vec<u8>>,
    /// Up to when the age of what was heard is counted.
    heard_at: Moment,
}

impl Station {
    pub(super) fn new(
        role: Box<dyn Role + core::marker::Send>,
        ear: Ear,
        before: Before,
        dice: Dice,
    ) -> Self {
        Self {
            role,
            ear,
            before,
            over: Over::Wire,
            both: BothWays::new(),
            dice,
            starts: 0,
            now: Moment::START,
            session: None,
            accepted: 0,
            heard: 0,
            under_way: BTreeMap::new(),
            journal: Vec::new(),
            told: Vec::new(),
            raw: None,
            heard_at: Moment::START,
        }
    }

    /// The same over the radio.
    pub(super) fn by_radio(self, own: u8, peer: u8) -> Self {
        Self { over: Over::Radio(Between { own, peer }), ..self }
    }

    /// When it wakes, if it sleeps now.
    pub(super) fn sleeps_until(&self, now: Moment) -> Option<Moment> {
        self.role.sleeps_until(now.instant()).map(|at| now.of(at))
    }

    /// A datagram is there: the radio tells how strong it is.
    pub(super) fn hears(&mut self, now: Moment, datagram: &[u8]) {
        if self.is_of_the_session(datagram, true) {
            self.elapse(now);
            self.both.heard(strength(datagram, now));
        }
    }

    /// A datagram leaves.
    pub(super) fn says(&mut self, now: Moment, datagram: &[u8]) {
        if self.is_of_the_session(datagram, false) {
            self.elapse(now);
            self.both.sent();
        }
    }

    /// Whether a datagram belongs to the session, by its head.
    fn is_of_the_session(&self, datagram: &[u8], is_in: bool) -> bool {
        let Over::Radio(Between { own, peer }) = self.over else { return false };
        let pair = if is_in { Addresses { to: own, from: peer } } else { Addresses { to: peer, from: own } };
        let kind = datagram.first().and_then(|control| Kind::from_control(*control));
        self.session.is_some() && kind.is_some_and(Kind::in_session) && addresses_of(datagram) == Some(pair)
    }

    fn elapse(&mut self, now: Moment) {
        let micros = u32::try_from(now.since(self.heard_at).as_micros()).unwrap_or(u32::MAX);
        self.both.elapse(Duration32::from_ticks(micros.min(LONGEST.as_ticks())));
        self.heard_at = now;
    }

    /// What the books need to know, since the last call.
    pub(super) fn take_journal(&mut self) -> Vec<Journal> {
        core::mem::take(&mut self.journal)
    }

    /// What the board said, since the last call.
    pub(super) fn take_told(&mut self) -> Vec<(Moment, String)> {
        core::mem::take(&mut self.told)
    }

    fn tell(&mut self, now: Moment, text: &str) {
        self.told.push((now, format!("{}: {text}", self.role.name())));
    }

    fn listen_to_role(&mut self, now: Moment) {
        for text in self.role.take_told() {
            self.tell(now, &text);
        }
    }

    /// An item's name in the books: its session, and its place among the confirmed items of it.
    const fn item(session: u64, place: u64) -> u64 {
        session << 32 | place
    }

    /// Books a confirmed message by its sequence number, which tells its place in the session: the one near the highest so far.
    fn arrived(&mut self, message: &Message<'_>) {
        let Some(session) = self.session.filter(|_| message.class.is_confirmed()) else { return };
        let base = self.heard.saturating_sub(128);
        let place = base + u64::from(message.number.wrapping_sub(base.to_le_bytes()[0]));
        self.heard = self.heard.max(place + 1);
        self.journal.push(Journal::Arrived { item: Self::item(session, place), session });
    }

    fn outcome(&mut self, ticket: Ticket, outcome: Outcome) {
        let Some(item) = self.under_way.remove(&ticket) else { return };
        let fate = match outcome {
            Outcome::Delivered => Fate::Delivered,
            Outcome::Unknown => Fate::Unknown,
            Outcome::NotSent(_) => Fate::NotSent,
        };
        self.journal.push(Journal::Told { item, fate });
    }

    fn ended(&mut self, now: Moment, reason: EndReason) {
        self.session = None;
        let why = match reason {
            EndReason::PeerRestarted(_) => "the other board opens a new one",
            EndReason::Silence => "nothing was heard for too long",
            EndReason::Mismatch => "the boards do not speak the same",
            EndReason::Closed => "it was closed",
        };
        self.tell(now, &format!("the session ended: {why}"));
    }
}

impl Program for Station {
    fn event(&mut self, now: Moment, event: &Event<'_>) {
        self.now = now;
        match event {
            Event::Opened(peer) => {
                self.session = Some(u64::from(peer.session));
                (self.accepted, self.heard) = (0, 0);
                self.both.restart();
            }
            Event::Ended(reason) => self.ended(now, *reason),
            Event::Quiet => self.tell(now, "hears nothing from the other board"),
            Event::Resumed => self.tell(now, "hears the other board again"),
            Event::Message(message) => self.arrived(message),
            Event::Outcome { ticket, outcome } => self.outcome(*ticket, *outcome),
            Event::Refused(reject) if self.ear == Ear::Far => {
                self.tell(now, &format!("refused a frame: {} ({})", reject.reason(), reject.rule()));
            }
            _ => {}
        }
        self.role.event(now.instant(), event);
        self.listen_to_role(now);
    }

    fn work(&mut self, now: Moment, link: &mut dyn Machine) {
        self.now = now;
        self.elapse(now);
        let Self { role, journal, under_way, accepted, session, both, over, .. } = self;
        role.work(now.instant(), &mut |message| {
            let class: Class = message.class();
            let mut payload = message.payload();
            if matches!((*over, class), (Over::Radio(_), Class::Report | Class::Notice)) {
                payload.splice(0..0, both.hearing().octets());
            }
            let ticket = link.send(now.instant(), class, &payload)?;
            if let Some(session) = session.filter(|_| class.is_confirmed()) {
                let item = Self::item(session, *accepted);
                *accepted += 1;
                journal.push(Journal::Accepted { item, class, session });
                under_way.insert(ticket, item);
            }
            Ok(ticket)
        });
        self.listen_to_role(now);
    }

    fn wake(&self) -> Option<Moment> {
        self.role.poll_wake().map(|at| self.now.of(at))
    }

    fn act(&mut self, now: Moment, act: u32) {
        if let Some(act) = Act::of(act) {
            self.role.act(now.instant(), act);
            self.listen_to_role(now);
        }
    }

    fn take_raw(&mut self) -> Option<Vec<u8>> {
        self.raw.take()
    }

    fn start(&mut self, now: Moment) -> (Box<dyn Machine>, Moment) {
        let cause = if self.starts == 0 { ResetCause::Power } else { ResetCause::Watchdog };
        if self.starts > 0 {
            self.journal.push(Journal::Restarted);
            self.role.restart(now.instant());
        }
        self.starts += 1;
        self.now = now;
        self.session = None;
        self.under_way.clear();
        let boots = self.starts > 1 || self.before == Before::Off;
        // Boards are not all equally quick, or those on the radio would talk at once.
        let boot = BOOT
            + Duration::from_millis(match self.over {
                Over::Radio(Between { own, peer }) => 170 * u64::from(own) + 60 * u64::from(peer),
                Over::Wire => 0,
            });
        let ready = if boots { now.plus(boot) } else { now };
        let own = OwnNumber::Random(self.dice.word());
        let base = match self.over {
            Over::Wire => Config::uart(BAUD, own),
            // Who sleeps promises nothing, and nobody is to miss it.
            Over::Radio(_) => Config {
                keep_alive: Duration32::from_ticks(0),
                ..Config::datagram(AIR, Duration32::from_ticks(LIFETIME), own)
            },
        };
        let config = Config {
            identity: self.role.identity(),
            fingerprint: FINGERPRINT,
            cause,
            jitter_seed: self.dice.word() | 1,
            ..base
        };
        if boots && self.role.name() == "dome" {
            self.raw =
                Some(format!("\r\ndome board, start {}: {}\r\n", self.starts, cause.reason()).into_bytes());
        }
        let (framing, between) = match self.over {
            Over::Wire => (FramingName::Cobs, None),
            Over::Radio(between) => (FramingName::Datagram, Some(between)),
        };
        let wiring = Wiring { framing, ..Wiring::default() };
        (machine_between(wiring, between, config, ready.instant()), ready)
    }
}
