//! From chunks of octets to records.

use super::{Note, Record, Sum};
use crate::endpoint::{Chunk, Item, Wiring};

/// Reads the frames of every port and direction and follows each conversation, as a listener who may have joined late.
#[derive(Debug)]
pub struct Tracker {
    wiring: Wiring,
    sum: Sum,
}

impl Tracker {
    /// A tracker that has seen nothing; `wiring` is how frames travel on ports that are not told otherwise.
    #[must_use]
    pub fn new(wiring: Wiring) -> Self {
        Self { wiring, sum: Sum::default() }
    }

    /// How frames travel on this port. What was half read there is dropped.
    pub fn set_wiring(&mut self, port: u16, wiring: Wiring) {
        let _ = port;
        self.wiring = wiring;
    }

    /// Takes whatever a source gives.
    pub fn item(&mut self, item: Item, sink: &mut dyn FnMut(Record<'_>)) {
        match item {
            Item::Chunk(chunk) => self.chunk(&chunk, sink),
            Item::Gap(gap) => {
                self.sum.gaps += u64::from(gap.to.is_none());
                sink(Record::Gap(gap));
            }
            Item::Note(note) => sink(Record::Note(Note::from(note))),
            Item::End => {}
        }
    }

    /// Takes a chunk of octets; `sink` is called with each record in order.
    pub fn chunk(&mut self, chunk: &Chunk, sink: &mut dyn FnMut(Record<'_>)) {
        let _ = sink;
        self.sum.octets += chunk.octets.len() as u64;
    }

    /// Time has passed without octets: shows text that waits for its end (a prompt) and tells silence. `now` is nanoseconds
    /// since the Unix epoch.
    pub fn tick(&mut self, now: u64, sink: &mut dyn FnMut(Record<'_>)) {
        let _ = (now, sink);
    }

    /// Nothing will follow: shows what was half read. The sum is not among these records; see [`Tracker::sum`].
    pub fn finish(&mut self, sink: &mut dyn FnMut(Record<'_>)) {
        let _ = sink;
    }

    /// Counts so far.
    #[must_use]
    pub fn sum(&self) -> &Sum {
        &self.sum
    }
}
