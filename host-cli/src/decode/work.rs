//! A piece of work: octets of several flows, cut where frames end.

use crate::{
    endpoint::Wiring,
    report::{
        Record,
        parts::{Batch, Verdict, Whence},
    },
};
use std::ops::Range;

/// A stretch of octets of one port and direction.
#[derive(Debug, Clone)]
pub(super) struct Span {
    pub(super) whence: Whence,
    pub(super) wiring: Wiring,
    /// Where they lie in the work.
    pub(super) octets: Range<usize>,
    /// They go on inside a candidate, or end inside one: the reader's state goes from span to span.
    pub(super) chained: bool,
    /// Filled in as the work goes on: pieces, octets after the last piece, place of the first piece, verdicts.
    pub(super) pieces: Range<usize>,
    pub(super) open: usize,
    pub(super) place: u64,
    pub(super) verdicts: Range<usize>,
}

/// What a work holds, in order.
#[derive(Debug, Clone)]
pub(super) enum Entry {
    Span(Span),
    /// A record that comes from the input itself.
    Record(Record<'static>),
    /// The flow ends here: what was half read is told and dropped.
    End(Whence, Wiring),
}

/// One piece of work.
#[derive(Debug, Default)]
pub(super) struct Work {
    pub(super) index: u64,
    pub(super) entries: Vec<Entry>,
    /// Octets taken from the input, and the first and last time among them.
    pub(super) taken: usize,
    pub(super) times: Option<(u64, u64)>,
    /// Time of the first thing in it.
    pub(super) began: Option<u64>,
    /// The octets, and as the work goes on what they hold.
    pub(super) batch: Batch,
    pub(super) verdicts: Vec<Verdict>,
}

impl Work {
    /// Empties it and keeps its memory.
    pub(super) fn clear(&mut self) {
        self.entries.clear();
        self.taken = 0;
        self.times = None;
        self.began = None;
        self.batch.clear();
        self.verdicts.clear();
    }

    pub(super) fn is_empty(&self) -> bool {
        self.entries.is_empty()
    }

    /// Adds a record that comes from the input itself.
    pub(super) fn record(&mut self, record: Record<'static>) {
        self.began = self.began.or(record.at());
        self.entries.push(Entry::Record(record));
    }

    pub(super) fn span(&mut self, whence: Whence, wiring: Wiring, parts: [&[u8]; 2], chained: bool) {
        let input = &mut self.batch.input;
        let from = input.len();
        parts.iter().for_each(|part| input.extend_from_slice(part));
        let octets = from..input.len();
        self.entries.push(Entry::Span(Span {
            whence,
            wiring,
            octets,
            chained,
            pieces: 0..0,
            open: 0,
            place: 0,
            verdicts: 0..0,
        }));
    }

    pub(super) fn took(&mut self, at: Option<u64>, octets: usize) {
        self.taken += octets;
        self.began = self.began.or(at);
        if let Some(at) = at {
            let (first, last) = self.times.unwrap_or((at, at));
            self.times = Some((first.min(at), last.max(at)));
        }
    }
}
