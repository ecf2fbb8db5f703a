//! A board on the network: its conversation, and behind that its side of a transfer.

use super::{
    side::Side,
    talk::{FRAME, Talk, Who, talk},
};
use bellwire::{
    fcs::Fcs16,
    frame::{Head, MAX_HEADER, Read, Reader},
    framing::{Framing, Lead},
    link::When,
    star::Addressed,
    time::Duration as Span,
    transfer::Message,
};
use bellwire_cli::{
    beyond::Beyond,
    sim::{Moment, Node},
};
use core::time::Duration;

/// Code of the extension (section 6 of the wire text).
const TRANSFER: u8 = 0x12;

/// Bodies, by what they are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) struct Count {
    pub(crate) offers: u32,
    pub(crate) parts: u32,
    pub(crate) asks: u32,
    pub(crate) maps: u32,
    pub(crate) others: u32,
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

    pub(crate) const fn all(&self) -> u32 {
        self.offers + self.parts + self.asks + self.maps + self.others
    }
}

/// A board.
pub(crate) struct End<F: Framing> {
    framing: F,
    who: Who,
    rate: u32,
    talk: Box<dyn Talk>,
    reader: Reader<F, Fcs16, FRAME>,
    pub(crate) side: Side,
    now: Moment,
    /// When the driver is free for the next body.
    free: Option<Moment>,
    lives: u32,
    pub(crate) sent: Count,
    pub(crate) heard: Count,
    /// The longest frame with a body, octets.
    pub(crate) longest_frame: usize,
    /// A report as often as that, and when the next is due.
    every: Option<Duration>,
    due: Moment,
    /// When each report was handed to the conversation.
    pub(crate) reports: Vec<Moment>,
    /// Which reports came from the other end, and when.
    pub(crate) came: Vec<(u32, Moment)>,
}

impl<F: Framing + Clone + 'static> End<F> {
    pub(crate) fn new(framing: &F, who: Who, rate: u32, side: Side, every: Option<Duration>) -> Self {
        Self {
            framing: framing.clone(),
            who,
            rate,
            talk: talk(framing.clone(), who, rate, 1, Moment::START.instant()),
            reader: Reader::new(framing.clone()),
            side,
            now: Moment::START,
            free: None,
            lives: 1,
            sent: Count::default(),
            heard: Count::default(),
            longest_frame: 0,
            every,
            // The sessions are open by then.
            due: Moment::from_millis(500),
            reports: Vec::new(),
            came: Vec::new(),
        }
    }

    /// Says no more reports from now on.
    pub(crate) const fn falls_quiet(&mut self) {
        self.every = None;
    }

    fn pass(&mut self, now: Moment) {
        let micros = u128::from(now.nanos() / 1_000 - self.now.nanos() / 1_000);
        self.side.elapse(Span::from_ticks(u32::try_from(micros).expect("a short pause")));
        self.now = now;
    }

    fn serve(&mut self, now: Moment) {
        for payload in self.talk.heard() {
            let (number, _) = payload.split_first_chunk().expect("a report of ours");
            self.came.push((u32::from_le_bytes(*number), now));
        }
        while let Some(every) = self.every.filter(|_| self.due <= now) {
            self.due = self.due.plus(every);
            let mut payload = [0x5A; 24];
            let number = u32::try_from(self.reports.len()).expect("few");
            payload[..4].copy_from_slice(&number.to_le_bytes());
            if self.talk.report(now.instant(), &payload) {
                self.reports.push(now);
            }
        }
    }

    fn frame(&self, body: &[u8]) -> Vec<u8> {
        let mut octets = [0; MAX_HEADER];
        [octets[0], octets[1]] = [0xE0, TRANSFER];
        let (head, mut out) = (Head { octets: &octets, len: 2 }, vec![0; 2 * FRAME]);
        let to = |own, peer| Addressed { framing: self.framing.clone(), own, peer };
        let len = match self.who {
            Who::Peer => self.framing.encode_frame::<Fcs16>(head, body, Lead::Delimiter, &mut out),
            Who::Hub => to(0, 1).encode_frame::<Fcs16>(head, body, Lead::Delimiter, &mut out),
            Who::Leaf(own) => to(own, 0).encode_frame::<Fcs16>(head, body, Lead::Delimiter, &mut out),
        };
        out.truncate(len.expect("room"));
        out
    }
}

impl<F: Framing + Clone + 'static> Node for End<F> {
    fn ports(&self) -> usize {
        if self.who == Who::Hub { super::talk::LEAVES.into() } else { 1 }
    }

    fn arrived(&mut self, now: Moment, port: usize, octets: &[u8]) {
        self.pass(now);
        self.talk.octets(now.instant(), port, octets);
        let (mut rest, mut fails) = (octets, false);
        while port == 0 && !fails {
            let (consumed, read) = self.reader.feed(rest);
            rest = &rest[consumed..];
            match read {
                // A reader knows no code that a link skips.
                Some(Read::Refused { octets, .. }) => {
                    if let Some(beyond) = Beyond::read(octets).filter(|beyond| beyond.code == TRANSFER) {
                        self.heard.enter(beyond.body);
                        fails = self.side.take(beyond.body);
                    }
                }
                None if rest.is_empty() || consumed == 0 => break,
                _ => {}
            }
        }
        if fails {
            self.restart(now);
        }
        self.serve(now);
    }

    fn woken(&mut self, now: Moment) {
        self.pass(now);
        self.talk.timeout(now.instant());
        self.serve(now);
    }

    /// The conversation goes first; a body goes when it has nothing to say and the driver is empty.
    fn transmit(&mut self, now: Moment, port: usize, unsent: usize, out: &mut Vec<u8>) -> bool {
        self.talk.unsent(now.instant(), unsent);
        if let Some(frame) = self.talk.transmit(now.instant(), port) {
            *out = frame;
            return true;
        }
        if port > 0 {
            return false;
        }
        self.free = None;
        if unsent > 0 {
            let nanos = 1_000_000_000 * unsent as u64 / u64::from(self.rate);
            self.free = Some(now.plus(Duration::from_nanos(nanos.max(1))));
            return false;
        }
        let Some(body) = self.side.transmit() else { return false };
        self.sent.enter(&body);
        *out = self.frame(&body);
        self.longest_frame = self.longest_frame.max(out.len());
        true
    }

    fn wake(&self) -> Option<Moment> {
        let talk = match self.talk.wake().when {
            When::Now => Some(self.now),
            When::At(at) => Some(self.now.of(at)),
            When::Idle => None,
        };
        let reports = self.every.map(|_| self.due);
        let side = self.side.wake().filter(|wake| wake.as_ticks() > 0);
        let side = side.map(|wake| self.now.plus(Duration::from_micros(wake.as_ticks().into())));
        [talk, reports, side, self.free].into_iter().flatten().min()
    }

    fn restart(&mut self, now: Moment) {
        self.lives += 1;
        self.talk = talk(self.framing.clone(), self.who, self.rate, self.lives, now.instant());
        self.reader = Reader::new(self.framing.clone());
        self.side.restart();
        self.free = None;
        self.now = now;
    }
}
