//! From chunks of octets to records.

use std::borrow::Cow;

use super::{
    Note, Record, Sum, Text,
    batch::Batch,
    conversations::{Conversations, Verdict, Whence, emit, waiting_text},
    split::{Split, splitter},
};
use crate::endpoint::{Chunk, Direction, Item, Wiring};

/// Text that waits for its delimiter is shown after this pause, ns.
const TEXT_PAUSE: u64 = 300_000_000;

/// Reads the frames of every port and direction and follows each conversation, as a listener who may have joined late.
pub struct Tracker {
    wiring: Wiring,
    ports: Vec<Port>,
    conversations: Conversations,
    batch: Batch,
    verdicts: Vec<Verdict>,
}

struct Port {
    flows: [Flow; 2],
}

struct Flow {
    split: Box<dyn Split>,
    last_at: u64,
    /// Octets of the waiting text that were shown already.
    shown: usize,
}

impl Flow {
    fn new(wiring: Wiring) -> Self {
        Self { split: splitter(wiring), last_at: 0, shown: 0 }
    }
}

impl std::fmt::Debug for Tracker {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Tracker")
            .field("wiring", &self.wiring)
            .field("sum", self.sum())
            .finish_non_exhaustive()
    }
}

impl Tracker {
    /// A tracker that has seen nothing; `wiring` is how frames travel on ports that are not told otherwise.
    #[must_use]
    pub fn new(wiring: Wiring) -> Self {
        Self {
            wiring,
            ports: Vec::new(),
            conversations: Conversations::default(),
            batch: Batch::default(),
            verdicts: Vec::new(),
        }
    }

    /// How frames travel on this port. What was half read there is dropped.
    pub fn set_wiring(&mut self, port: u16, wiring: Wiring) {
        self.port(port).flows = [Flow::new(wiring), Flow::new(wiring)];
    }

    /// Takes whatever a source gives.
    pub fn item(&mut self, item: Item, sink: &mut dyn FnMut(Record<'_>)) {
        match item {
            Item::Chunk(chunk) => self.chunk(&chunk, sink),
            Item::Gap(gap) => {
                if gap.to.is_none() {
                    self.conversations.sum_mut().gaps += 1;
                    self.end(gap.port, sink);
                }
                sink(Record::Gap(gap));
            }
            Item::Note(note) => sink(Record::Note(Note::from(note))),
            Item::End => {}
        }
    }

    /// Takes a chunk of octets; `sink` is called with each record in order.
    pub fn chunk(&mut self, chunk: &Chunk, sink: &mut dyn FnMut(Record<'_>)) {
        self.octets(Some(chunk.at), chunk.port, chunk.direction, &chunk.octets, sink);
    }

    /// Takes octets that may have no time.
    pub fn octets(
        &mut self,
        at: Option<u64>,
        port: u16,
        direction: Direction,
        octets: &[u8],
        sink: &mut dyn FnMut(Record<'_>),
    ) {
        let mut batch = std::mem::take(&mut self.batch);
        batch.clear();
        let flow = &mut self.port(port).flows[direction as usize];
        batch.input.extend_from_slice(octets);
        flow.split.split(0..octets.len(), &mut batch);
        flow.last_at = at.unwrap_or(0);
        let mut shown = std::mem::take(&mut flow.shown);
        if batch.pieces.is_empty() {
            flow.shown = shown;
        }
        let whence = Whence { at, port, direction };
        let all = 0..batch.pieces.len();
        self.verdicts.clear();
        self.conversations.taken(at, octets.len());
        let place = self.conversations.observe(whence, &mut batch, all.clone(), &mut self.verdicts);
        emit(whence, &batch, all, place, &mut self.verdicts.iter().peekable(), &mut |record| {
            if let Some(record) = not_shown(record, &mut shown) {
                sink(record);
            }
        });
        self.batch = batch;
    }

    /// Time has passed without octets: shows text that waits for its end (a prompt) and tells silence. `now` is nanoseconds
    /// since the Unix epoch.
    pub fn tick(&mut self, now: u64, sink: &mut dyn FnMut(Record<'_>)) {
        for port in 0..self.ports.len() {
            let Ok(number) = u16::try_from(port) else { return };
            for direction in [Direction::In, Direction::Out] {
                let place = self.conversations.place(number, direction);
                let flow = &mut self.ports[port].flows[direction as usize];
                let text = flow.split.pending_text();
                if text.len() > flow.shown && now.saturating_sub(flow.last_at) >= TEXT_PAUSE {
                    let whence = Whence { at: Some(flow.last_at), port: number, direction };
                    waiting_text(whence, place, text, flow.shown, sink);
                    flow.shown = text.len();
                }
            }
            for event in self.conversations.tick(now, number) {
                sink(Record::Event(event));
            }
        }
    }

    /// Nothing will follow: shows what was half read. The sum is not among these records; see [`Tracker::sum`].
    pub fn finish(&mut self, sink: &mut dyn FnMut(Record<'_>)) {
        for port in 0..self.ports.len() {
            let Ok(port) = u16::try_from(port) else { return };
            self.end(port, sink);
        }
    }

    /// What a port sent ends here: shows what was half read, and begins anew.
    fn end(&mut self, port: u16, sink: &mut dyn FnMut(Record<'_>)) {
        for direction in [Direction::In, Direction::Out] {
            let Some(entry) = self.ports.get_mut(usize::from(port)) else { return };
            let flow = &mut entry.flows[direction as usize];
            let whence = Whence { at: Some(flow.last_at).filter(|&at| at > 0), port, direction };
            self.conversations.end(whence, &*flow.split, flow.shown, sink);
            flow.split.reset();
            flow.shown = 0;
        }
    }

    /// Counts so far.
    #[must_use]
    pub fn sum(&self) -> &Sum {
        self.conversations.sum()
    }

    fn port(&mut self, port: u16) -> &mut Port {
        let index = usize::from(port);
        while self.ports.len() <= index {
            self.ports.push(Port { flows: [Flow::new(self.wiring), Flow::new(self.wiring)] });
        }
        &mut self.ports[index]
    }
}

/// A record without the octets of text that were shown before their delimiter came.
fn not_shown<'a>(record: Record<'a>, shown: &mut usize) -> Option<Record<'a>> {
    let skip = std::mem::take(shown);
    match record {
        Record::Text(text) if skip > 0 => {
            let mut stamp = text.stamp;
            stamp.place += skip as u64;
            let octets = Cow::Owned(text.octets.get(skip..).filter(|rest| !rest.is_empty())?.to_vec());
            Some(Record::Text(Text { stamp, octets, ..text }))
        }
        Record::Event(_) => {
            *shown = skip;
            Some(record)
        }
        record => Some(record),
    }
}
