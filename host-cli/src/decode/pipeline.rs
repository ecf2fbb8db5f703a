//! Workers that split, observe, show and write.

use super::{
    Filter, Input,
    guess::guess,
    input::Torn,
    turn::Turn,
    work::{Entry, Span, Work},
};
use crate::{
    endpoint::{Direction, Wiring},
    fail::Fail,
    report::{
        Record, Render, Start, Sum,
        parts::{Conversations, Split, emit, splitter},
    },
};
use std::{
    io::Write,
    sync::{
        Mutex, PoisonError,
        atomic::{AtomicBool, Ordering},
    },
};

/// What is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Show {
    /// The records, then the sum.
    #[default]
    All,
    /// The sum alone.
    Sum,
}

/// How to decode.
pub struct Plan<'a> {
    /// Worker threads, at least one.
    pub threads: usize,
    /// Records or the sum alone.
    pub show: Show,
    /// Which records are shown.
    pub filter: &'a Filter,
    /// How they are shown.
    pub render: &'a dyn Render,
    /// The time that seconds are counted from.
    pub start: &'a Start,
    /// Asks to finish early.
    pub stop: &'a AtomicBool,
}

impl std::fmt::Debug for Plan<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Plan")
            .field("threads", &self.threads)
            .field("show", &self.show)
            .finish_non_exhaustive()
    }
}

/// How it went.
#[derive(Debug, Clone, PartialEq)]
pub struct Done {
    /// Counts over all that was read.
    pub sum: Sum,
    /// How a capture ended, if not after a whole block.
    pub torn: Option<Torn>,
    /// Under which framing and FCS the input would hold frames, if it held none under those it was read with, and how many.
    pub guess: Option<(Wiring, u64)>,
}

/// What must see the work in order before it is shown.
#[derive(Default)]
struct InOrder {
    conversations: Conversations,
    flows: Vec<[Flow; 2]>,
}

#[derive(Default)]
struct Flow {
    split: Option<Box<dyn Split>>,
    /// Octets since the last piece, in the spans before.
    open: usize,
}

/// Decodes all of `input` to `out`.
///
/// # Errors
/// What could not be read or written; everything before it has been written.
pub fn run(input: Input, out: &mut (dyn Write + Send), plan: &Plan<'_>) -> Result<Done, Fail> {
    let input = Mutex::new(input);
    let in_order = Turn::new(InOrder::default());
    let sink = Turn::new((out, 0_u64));
    let failed = Mutex::new(None);
    let broken = AtomicBool::new(false);
    let shared =
        Shared { input: &input, in_order: &in_order, sink: &sink, failed: &failed, broken: &broken, plan };
    if plan.threads <= 1 {
        shared.work();
    } else {
        std::thread::scope(|scope| {
            for _ in 0..plan.threads {
                scope.spawn(|| shared.work());
            }
        });
    }
    let input = input.into_inner().unwrap_or_else(PoisonError::into_inner);
    let (out, shown) = sink.into_inner();
    let mut sum = in_order.into_inner().conversations.sum().clone();
    let failed = failed.into_inner().unwrap_or_else(PoisonError::into_inner);
    if let Some(fail) = failed.as_ref().filter(|_| broken.load(Ordering::Relaxed)) {
        return Err(fail.clone());
    }
    if !plan.filter.is_open() {
        sum.shown = Some(shown);
    }
    let mut last = Vec::new();
    plan.render.record(&Record::Sum(Box::new(sum.clone())), &mut last);
    out.write_all(&last).and_then(|()| out.flush()).map_err(|error| Fail::output(&error))?;
    if let Some(fail) = failed {
        return Err(fail);
    }
    let guess = if sum.all_frames() == 0 { guess(input.head()) } else { None };
    Ok(Done { sum, torn: input.torn().cloned(), guess })
}

struct Shared<'a, 'b> {
    input: &'a Mutex<Input>,
    in_order: &'a Turn<InOrder>,
    sink: &'a Turn<(&'b mut (dyn Write + Send), u64)>,
    failed: &'a Mutex<Option<Fail>>,
    /// The output cannot be written any more.
    broken: &'a AtomicBool,
    plan: &'a Plan<'a>,
}

impl Shared<'_, '_> {
    /// One worker: piece after piece, until the input ends or something fails. Every piece that was taken passes both turns, so
    /// that nobody waits for ever.
    fn work(&self) {
        let mut work = Work::default();
        let mut splitters = Splitters::default();
        let mut lines = Vec::new();
        while self.next(&mut work) {
            splitters.split(&mut work);
            self.in_order.take(work.index, |in_order| in_order.see(&mut work, self.plan.start));
            lines.clear();
            let shown = match self.plan.show {
                Show::All => self.show(&work, &mut lines),
                // Where everything passes, nobody asks how many.
                Show::Sum if self.plan.filter.is_open() => 0,
                Show::Sum => {
                    let passed = self.show(&work, &mut lines);
                    lines.clear();
                    passed
                }
            };
            self.sink.take(work.index, |(out, count)| {
                *count += shown;
                // What was read before the input failed is still written, but nothing after a failed write.
                if !lines.is_empty()
                    && !self.broken.load(Ordering::Relaxed)
                    && let Err(error) = out.write_all(&lines).and_then(|()| out.flush())
                {
                    self.broken.store(true, Ordering::Relaxed);
                    self.fail(Fail::output(&error));
                }
            });
        }
    }

    fn next(&self, work: &mut Work) -> bool {
        let mut input = self.input.lock().unwrap_or_else(PoisonError::into_inner);
        if self.has_failed() || self.plan.stop.load(Ordering::Relaxed) {
            return false;
        }
        match input.fill(work) {
            Ok(more) => more,
            Err(fail) => {
                self.fail(fail);
                !work.entries.is_empty()
            }
        }
    }

    fn fail(&self, fail: Fail) {
        self.failed.lock().unwrap_or_else(PoisonError::into_inner).get_or_insert(fail);
    }

    fn has_failed(&self) -> bool {
        self.failed.lock().unwrap_or_else(PoisonError::into_inner).is_some()
    }

    fn show(&self, work: &Work, lines: &mut Vec<u8>) -> u64 {
        let mut shown = 0;
        let open = self.plan.filter.is_open();
        let start = self.plan.start.known();
        let mut sink = |record: Record<'_>| {
            if open || self.plan.filter.passes(&record, start) {
                shown += 1;
                self.plan.render.record(&record, lines);
            }
        };
        for entry in &work.entries {
            match entry {
                Entry::Span(span) => {
                    let mut verdicts =
                        work.verdicts.get(span.verdicts.clone()).unwrap_or(&[]).iter().peekable();
                    emit(span.whence, &work.batch, span.pieces.clone(), span.place, &mut verdicts, &mut sink);
                }
                Entry::Record(record) => sink(record.clone()),
                Entry::End(..) => {}
            }
        }
        shown
    }
}

/// One splitter for each wiring that a worker has met.
#[derive(Default)]
struct Splitters(Vec<(Wiring, Box<dyn Split>)>);

impl Splitters {
    fn of(&mut self, wiring: Wiring) -> &mut dyn Split {
        let at = self.0.iter().position(|(known, _)| *known == wiring).unwrap_or_else(|| {
            self.0.push((wiring, splitter(wiring)));
            self.0.len() - 1
        });
        &mut *self.0[at].1
    }

    /// Splits the spans that stand for themselves. The chained ones wait for their turn.
    fn split(&mut self, work: &mut Work) {
        let Work { entries, batch, .. } = work;
        for entry in entries {
            let Entry::Span(span) = entry else { continue };
            if span.chained {
                continue;
            }
            let splitter = self.of(span.wiring);
            splitter.reset();
            let from = batch.pieces.len();
            splitter.split(span.octets.clone(), batch);
            span.pieces = from..batch.pieces.len();
            span.open = splitter.take_open();
        }
    }
}

impl InOrder {
    fn flow(&mut self, port: u16, direction: Direction) -> &mut Flow {
        let index = usize::from(port);
        if self.flows.len() <= index {
            self.flows.resize_with(index + 1, Default::default);
        }
        &mut self.flows[index][direction as usize]
    }

    /// Follows the work's frames.
    fn see(&mut self, work: &mut Work, start: &Start) {
        if let Some(began) = work.began {
            let _ = start.get(began);
        }
        if let Some((first, last)) = work.times {
            self.conversations.taken(Some(first), 0);
            self.conversations.taken(Some(last), 0);
        }
        self.conversations.taken(None, work.taken);
        let mut entries = std::mem::take(&mut work.entries);
        let mut ends = Vec::new();
        for (index, entry) in entries.iter_mut().enumerate() {
            match entry {
                Entry::Span(span) => self.span(span, work),
                Entry::Record(Record::Gap(gap)) if gap.to.is_none() => self.conversations.sum_mut().gaps += 1,
                Entry::Record(_) => {}
                Entry::End(whence, wiring) => {
                    let flow = std::mem::take(self.flow(whence.port, whence.direction));
                    let split = flow.split.unwrap_or_else(|| splitter(*wiring));
                    let mut sink = |record: Record<'_>| ends.push((index, record.into_owned()));
                    self.conversations.end(*whence, &*split, 0, &mut sink);
                }
            }
        }
        for (index, record) in ends.into_iter().rev() {
            entries.insert(index, Entry::Record(record));
        }
        work.entries = entries;
    }

    fn span(&mut self, span: &mut Span, work: &mut Work) {
        let whence = span.whence;
        let flow = self.flow(whence.port, whence.direction);
        if span.chained {
            let split = flow.split.get_or_insert_with(|| splitter(span.wiring));
            let from = work.batch.pieces.len();
            split.split(span.octets.clone(), &mut work.batch);
            span.pieces = from..work.batch.pieces.len();
            span.open = split.take_open();
        }
        match work.batch.pieces.get_mut(span.pieces.clone()).and_then(<[_]>::first_mut) {
            Some(first) => {
                first.wire += u32::try_from(flow.open).unwrap_or(u32::MAX);
                flow.open = span.open;
            }
            None => flow.open += span.open,
        }
        let from = work.verdicts.len();
        span.place =
            self.conversations.observe(whence, &mut work.batch, span.pieces.clone(), &mut work.verdicts);
        span.verdicts = from..work.verdicts.len();
    }
}
