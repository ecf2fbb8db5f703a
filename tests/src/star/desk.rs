//! The desk: the core's hub, a mailbox for each leaf, and a line to each.

use super::{
    BOX, LEAVES, Letters, Make, POOL, QUEUE,
    leaf::lifetime,
    sleeper::{AWAKE, HERE},
};
use bellwire::{
    fcs::Fcs16,
    frame::Class,
    framing::Framing,
    link::{Event, Outcome, When},
    star::{self, Hub, HubConfig, Mailbox, Seconds, Speaks},
};
use bellwire_cli::sim::{
    Dice, Fate, Moment, Node, Seed,
    traffic::{Journal, item_of, payload_of},
};
use core::time::Duration;
use std::collections::{BTreeMap, VecDeque};

pub(super) type TheHub<F> = Hub<F, Fcs16, LEAVES, POOL, 64>;

/// How long a letter waits, s.
const LIFE: Seconds = 2;

/// A message that the hub has.
struct UnderWay {
    leaf: u8,
    letter: star::Ticket,
    item: u64,
}

/// What the desk keeps of a leaf.
#[derive(Default)]
struct Place {
    mailbox: Mailbox<BOX, 16>,
    session: Option<u64>,
    out: VecDeque<Vec<u8>>,
    /// Confirmed messages that the hub has for it.
    under_way: usize,
}

pub(super) struct Desk<F: Framing> {
    make: Make,
    framing: F,
    dice: Dice,
    hub: Box<TheHub<F>>,
    ready: Moment,
    now: Moment,
    places: Vec<Place>,
    under_way: BTreeMap<u16, UnderWay>,
    /// When the next letter is written; none any more.
    due: Option<Moment>,
    written: u64,
    pub(super) letters: Letters,
    pub(super) sessions: u64,
    pub(super) most: [usize; 2],
    pub(super) refused: u64,
    journal: Vec<(u8, Journal)>,
}

fn seconds(now: Moment) -> Seconds {
    Seconds::try_from(now.nanos() / 1_000_000_000).expect("a short run")
}

impl<F: Framing> Desk<F> {
    pub(super) fn new(make: &Make, framing: F) -> Self {
        let mut dice = Seed(make.seed).stream(999);
        let own = dice.word();
        Self {
            make: make.clone(),
            hub: Self::hub(make, &framing, own, &mut dice, Moment::START),
            framing,
            dice,
            ready: Moment::START,
            now: Moment::START,
            places: (0..make.leaves).map(|_| Place::default()).collect(),
            under_way: BTreeMap::new(),
            due: Some(Moment::START),
            written: 0,
            letters: Letters::default(),
            sessions: 0,
            most: [0; 2],
            refused: 0,
            journal: Vec::new(),
        }
    }

    fn hub(make: &Make, framing: &F, own: u32, dice: &mut Dice, now: Moment) -> Box<TheHub<F>> {
        let rate = make.setup.rate;
        let config = if F::ORDERED {
            HubConfig::wire(rate * 10, own)
        } else {
            HubConfig::datagram(rate, lifetime(make), own)
        };
        // Each leaf has a line of its own, so nothing waits for the line of another.
        let config = HubConfig { octet_rate: 0, queue: QUEUE, jitter_seed: dice.word() | 1, ..config };
        let mut hub = Box::new(TheHub::new(framing.clone(), config, now.instant()));
        for leaf in 1..=make.leaves {
            let speaks = if make.sleeps(leaf) { Speaks::Sleeper } else { Speaks::Hub };
            assert!(hub.admit(now.instant(), leaf, speaks));
        }
        hub
    }

    pub(super) const fn hub_now(&self) -> &TheHub<F> {
        &self.hub
    }

    pub(super) fn session(&self, leaf: u8) -> Option<u64> {
        self.places[usize::from(leaf) - 1].session
    }

    /// Writes no more letters.
    pub(super) const fn finish(&mut self) {
        self.due = None;
    }

    /// Of each line, the leaf that it is about.
    pub(super) fn take_journal(&mut self) -> Vec<(u8, Journal)> {
        core::mem::take(&mut self.journal)
    }

    /// Takes out the letters that wait too long by then; gives how many are left.
    pub(super) fn clear(&mut self, now: Moment) -> usize {
        for place in &mut self.places {
            while place.mailbox.poll_expired(seconds(now)).is_some() {
                self.letters.expired += 1;
            }
        }
        self.places.iter().map(|place| place.mailbox.letters().len()).sum()
    }

    /// How many reports the hub takes now, each leaf up: what is free in its pool.
    pub(super) fn fill(&mut self) -> usize {
        let (now, leaves) = (self.now.instant(), self.make.leaves);
        let mut taken = 0;
        for leaf in (1..=leaves).cycle().take(usize::from(leaves) * usize::from(QUEUE)) {
            taken += usize::from(self.hub.send(now, leaf, Class::Report, &[1]).is_ok());
        }
        taken
    }

    fn write_letter(&mut self, now: Moment) {
        let leaf = 1 + u8::try_from(self.dice.below(self.make.leaves.into())).expect("a leaf");
        let class = if self.dice.below(3) == 0 { Class::SetPoint } else { Class::Errand };
        let payload = payload_of(class, self.written);
        let place = &mut self.places[usize::from(leaf) - 1];
        while place.mailbox.poll_expired(seconds(now)).is_some() {
            self.letters.expired += 1;
        }
        match place.mailbox.push(class, &payload, seconds(now), LIFE) {
            Ok(accepted) => {
                self.written += 1;
                self.letters.pushed += 1;
                self.letters.replaced += u64::from(accepted.replaces.is_some());
            }
            Err(star::NotTaken::Full) => self.letters.full += 1,
            Err(other) => panic!("{other:?}"),
        }
        self.letters.most = self.letters.most.max(place.mailbox.letters().len());
    }

    /// Hands the hub what it takes of a leaf's letters.
    fn offer(&mut self, now: Moment, leaf: u8) {
        let place = &mut self.places[usize::from(leaf) - 1];
        let Some(session) = place.session.filter(|_| self.hub.is_awake(leaf)) else { return };
        while let Some(letter) = place.mailbox.offer(seconds(now)) {
            let (ticket, class) = (letter.ticket, letter.class);
            let item = item_of(class, &letter.payload).expect("its own");
            let Ok(taken) = self.hub.send(now.instant(), leaf, class, &letter.payload) else {
                self.refused += 1;
                place.mailbox.settle(ticket, star::Fate::NotSent);
                break;
            };
            self.journal.push((leaf, Journal::Accepted { item, class, session }));
            if class.is_confirmed() {
                place.under_way += 1;
                let before = self.under_way.insert(taken.get(), UnderWay { leaf, letter: ticket, item });
                assert!(before.is_none(), "a ticket is given twice: {}", taken.get());
                let most = [self.under_way.len(), place.under_way];
                self.most = [0, 1].map(|which| self.most[which].max(most[which]));
            } else {
                place.mailbox.settle(ticket, star::Fate::Sent);
                self.letters.sent += 1;
            }
        }
        self.hub.set_more(leaf, place.mailbox.has_more());
    }

    fn outcome(&mut self, ticket: u16, outcome: Outcome) {
        let Some(UnderWay { leaf, letter, item }) = self.under_way.remove(&ticket) else {
            panic!("an outcome of nothing: {ticket}")
        };
        let (fate, told) = match outcome {
            Outcome::Delivered => (star::Fate::Confirmed, Fate::Delivered),
            Outcome::Unknown => (star::Fate::Unknown, Fate::Unknown),
            Outcome::NotSent(_) => (star::Fate::NotSent, Fate::NotSent),
        };
        self.letters.confirmed += u64::from(told == Fate::Delivered);
        self.letters.unknown += u64::from(told == Fate::Unknown);
        let place = &mut self.places[usize::from(leaf) - 1];
        place.under_way -= 1;
        assert!(place.mailbox.settle(letter, fate), "a letter of that name");
        self.journal.push((leaf, Journal::Told { item, fate: told }));
    }

    /// Takes all events; gives whether there may be room in the pool now, or a leaf is there that was not.
    fn drain(&mut self) -> bool {
        let mut room = false;
        loop {
            let Some(told) = self.hub.poll_event() else { return room };
            let leaf = told.leaf.unwrap_or(0);
            let place = usize::from(leaf).checked_sub(1);
            match told.event {
                Event::Opened(peer) => {
                    self.places[place.expect("a leaf")].session = Some(u64::from(peer.session));
                    self.sessions += 1;
                    room = true;
                }
                Event::Ended(_) => self.places[place.expect("a leaf")].session = None,
                Event::Outcome { ticket, outcome } => {
                    self.outcome(ticket.get(), outcome);
                    room = true;
                }
                Event::Message(message) if message.payload == HERE => {}
                Event::Message(message) => {
                    let session = self.places[place.expect("a leaf")].session.unwrap_or(u64::MAX);
                    let line = item_of(message.class, message.payload)
                        .map_or(Journal::Slipped, |item| Journal::Arrived { item, session });
                    self.journal.push((leaf, line));
                }
                _ => {}
            }
        }
    }

    fn serve(&mut self, now: Moment) {
        let mut room = self.drain();
        while let Some(due) = self.due.filter(|due| *due <= now) {
            self.write_letter(now);
            let mean = u64::try_from(self.make.letters.as_nanos()).expect("short");
            self.due = Some(due.plus(Duration::from_nanos(self.dice.below(2 * mean))));
            room = true;
        }
        if let Some(leaf) = self.hub.take_heard()
            && self.make.sleeps(leaf)
        {
            self.hub.set_awake(now.instant(), leaf, AWAKE);
            room = true;
        }
        if room {
            (1..=self.make.leaves).for_each(|leaf| self.offer(now, leaf));
            self.drain();
        }
        let mut out = [0; 160];
        while let Some(sent) = self.hub.poll_transmit(now.instant(), &mut out) {
            assert!(sent.len > 0, "there was room");
            self.places[usize::from(sent.leaf) - 1].out.push_back(out[..sent.len].to_vec());
        }
    }

    fn is_ready(&mut self, now: Moment) -> bool {
        self.now = now;
        now >= self.ready
    }
}

impl<F: Framing> Node for Desk<F> {
    fn ports(&self) -> usize {
        self.make.leaves.into()
    }

    fn arrived(&mut self, now: Moment, _port: usize, octets: &[u8]) {
        if !self.is_ready(now) {
            return;
        }
        let mut rest = octets;
        while !rest.is_empty() {
            let done = self.hub.handle_octets(now.instant(), rest);
            rest = &rest[done..];
            self.serve(now);
        }
    }

    fn woken(&mut self, now: Moment) {
        if self.is_ready(now) {
            self.hub.handle_timeout(now.instant());
            self.serve(now);
        }
    }

    fn transmit(&mut self, _now: Moment, port: usize, _unsent: usize, out: &mut Vec<u8>) -> bool {
        self.places[port].out.pop_front().is_some_and(|frame| {
            *out = frame;
            true
        })
    }

    fn wake(&self) -> Option<Moment> {
        if self.now < self.ready {
            return Some(self.ready);
        }
        let hub = match self.hub.poll_wake().when {
            When::Now => Some(self.now),
            When::At(at) => Some(self.now.of(at)),
            When::Idle => None,
        };
        hub.into_iter().chain(self.due).min()
    }

    fn restart(&mut self, now: Moment) {
        // It has stored a number larger than the largest in use (W-22).
        let own = self.hub.own_number().wrapping_add(1);
        self.hub = Self::hub(&self.make, &self.framing, own, &mut self.dice, now);
        self.ready = now.plus(Duration::from_millis(self.dice.below(1_000)));
        self.now = now;
        self.under_way.clear();
        for (place, leaf) in self.places.iter_mut().zip(1..) {
            self.letters.lost += place.mailbox.letters().len() as u64;
            *place = Place::default();
            self.journal.push((leaf, Journal::Restarted));
        }
    }
}
