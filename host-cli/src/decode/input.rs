//! What is decoded: a capture, raw octets or hex text, told apart by their beginning.

use super::{
    cutter::Cutter,
    hex::{HexText, looks_like_hex},
    merge::{Held, Merge},
    work::Work,
};
use crate::{
    capture::{self, Reader, Tail},
    endpoint::{Direction, FramingName, Wiring},
    exit::Exit,
    fail::Fail,
    report::{Note, Record, parts::Whence},
};
use std::io::{Cursor, Read};

/// The octets that one piece of work is to hold: small enough for a second-level cache with all that is made of them.
const WORK: usize = 1 << 16;

/// What is said after a count of packets that are not ours.
const FOREIGN: &str = "packets of other link types passed over: not octets of a line";

/// Octets looked at to tell what an input is.
const HEAD: usize = 4096;

/// Forms of input.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, clap::ValueEnum)]
pub enum Form {
    /// A pcapng capture.
    Capture,
    /// Octets as they travelled.
    Octets,
    /// Hex text; with the framing datagram each line is one datagram.
    Hex,
}

pub(super) type Bytes = Box<dyn Read + Send>;

/// An input with its form.
pub struct Input {
    inner: Inner,
    form: Form,
    cutter: Cutter,
    /// What was asked for, to be laid over what a capture says of itself.
    wish: Wish,
    head: Vec<u8>,
    next: u64,
    scratch: Vec<u8>,
    /// The first work, read ahead so that the ports are known.
    first: Option<(Work, Result<bool, Fail>)>,
    ended: bool,
    torn: Option<Torn>,
}

/// How a capture ended that did not end after a whole block.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Torn {
    /// Which one, of several.
    pub name: Option<String>,
    /// How.
    pub tail: Tail,
}

enum Inner {
    Capture(Box<Reader<Bytes>>),
    Several(Merge),
    Octets { bytes: Bytes, buffer: Vec<u8> },
    Hex { bytes: Bytes, buffer: Vec<u8>, text: HexText, octets: Vec<u8> },
}

/// Framing, FCS and control-character map as far as they were asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Wish(pub(super) crate::args::line::FrameArgs);

impl Wish {
    fn wiring(self, known: Option<Wiring>) -> Wiring {
        self.0.wiring(known.unwrap_or_default())
    }
}

impl std::fmt::Debug for Input {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Input").field("form", &self.form).field("next", &self.next).finish_non_exhaustive()
    }
}

impl Input {
    /// Begins to read; without `form` the beginning of the input decides.
    ///
    /// # Errors
    /// If the input cannot be read, or is no capture where a capture was asked for.
    pub fn new(
        mut bytes: Bytes,
        form: Option<Form>,
        frame: crate::args::line::FrameArgs,
    ) -> Result<Self, Fail> {
        let mut head = vec![0; HEAD];
        let mut len = 0;
        // A slow pipe may give little at first: a capture is known by four octets, so wait for these at least.
        while len < 4 {
            match bytes.read(&mut head[len..]) {
                Ok(0) => break,
                Ok(more) => len += more,
                Err(error) if error.kind() == std::io::ErrorKind::Interrupted => {}
                Err(error) => return Err(Fail::io("cannot read the input", &error)),
            }
        }
        head.truncate(len);
        let form = form.unwrap_or_else(|| {
            // The reader tells what is to be done with the older ones.
            if capture::is_capture(&head) || capture::is_older_capture(&head) {
                Form::Capture
            } else if looks_like_hex(&head) {
                Form::Hex
            } else {
                Form::Octets
            }
        });
        let bytes: Bytes = Box::new(Cursor::new(head.clone()).chain(bytes));
        Self::begin(Self::inner(bytes, form)?, form, frame)
    }

    /// Begins to read several captures on one timeline; each comes with its name.
    ///
    /// # Errors
    /// As [`Input::new`], with the name, and if one of them is no capture.
    pub fn several(
        captures: Vec<(String, Bytes)>,
        frame: crate::args::line::FrameArgs,
    ) -> Result<Self, Fail> {
        Self::begin(Inner::Several(Merge::new(captures)?), Form::Capture, frame)
    }

    fn inner(bytes: Bytes, form: Form) -> Result<Inner, Fail> {
        Ok(match form {
            Form::Capture => Inner::Capture(Box::new(Reader::new(bytes)?)),
            Form::Octets => Inner::Octets { bytes, buffer: vec![0; WORK] },
            Form::Hex => {
                Inner::Hex { bytes, buffer: vec![0; WORK], text: HexText::default(), octets: Vec::new() }
            }
        })
    }

    fn begin(inner: Inner, form: Form, frame: crate::args::line::FrameArgs) -> Result<Self, Fail> {
        let cutter = Cutter::default();
        let mut input = Self {
            inner,
            form,
            cutter,
            wish: Wish(frame),
            head: Vec::new(),
            next: 0,
            scratch: Vec::new(),
            first: None,
            ended: false,
            torn: None,
        };
        let mut first = Work::default();
        let filled = match input.fill(&mut first) {
            Err(fail) if first.is_empty() => return Err(fail),
            filled => filled,
        };
        input.first = Some((first, filled));
        Ok(input)
    }

    /// The form it was read in.
    #[must_use]
    pub const fn form(&self) -> Form {
        self.form
    }

    /// Fills an empty work; `false` at the end of the input.
    pub(super) fn fill(&mut self, work: &mut Work) -> Result<bool, Fail> {
        if let Some((first, filled)) = self.first.take() {
            *work = first;
            return filled;
        }
        if self.ended {
            return Ok(false);
        }
        work.clear();
        work.index = self.next;
        self.next += 1;
        match &mut self.inner {
            Inner::Capture(_) => self.fill_from_capture(work)?,
            Inner::Several(_) => self.fill_from_several(work)?,
            Inner::Octets { .. } => self.fill_from_octets(work)?,
            Inner::Hex { .. } => self.fill_from_hex(work)?,
        }
        if self.head.len() < WORK {
            self.head
                .extend_from_slice(work.batch.input.get(..WORK.min(work.batch.input.len())).unwrap_or(&[]));
        }
        Ok(true)
    }

    /// The first octets of all flows together, to guess what they are if nothing could be decoded.
    pub(super) fn head(&self) -> &[u8] {
        &self.head
    }

    /// How a capture ended, if not after a whole block.
    pub(super) const fn torn(&self) -> Option<&Torn> {
        self.torn.as_ref()
    }

    /// What the ports are called, as far as known.
    #[must_use]
    pub fn ports(&self) -> Vec<String> {
        match &self.inner {
            Inner::Capture(reader) => reader.ports().iter().map(|port| port.name.clone()).collect(),
            Inner::Several(merge) => merge.ports().iter().map(|port| port.name.clone()).collect(),
            _ => Vec::new(),
        }
    }

    fn fill_from_capture(&mut self, work: &mut Work) -> Result<(), Fail> {
        let Self { inner: Inner::Capture(reader), cutter, wish, torn, ended, scratch, .. } = self else {
            return Ok(());
        };
        let wiring = |reader: &Reader<Bytes>, port: u16| {
            wish.wiring(reader.ports().get(usize::from(port)).and_then(|port| port.wiring))
        };
        // Ends early where the next block is not there yet, so that a live capture is shown as it comes.
        while work.batch.input.len() < WORK && work.taken < WORK && (work.is_empty() || reader.buffered() > 0)
        {
            match reader.read()? {
                capture::Record::Chunk { at, port, direction, octets } => {
                    scratch.clear();
                    scratch.extend_from_slice(octets);
                    let whence = Whence { at: Some(at), port, direction };
                    cutter.chunk(whence, wiring(reader, port), scratch, work);
                }
                capture::Record::Gap(gap) => {
                    if gap.to.is_none() {
                        cutter.end(gap.port, wiring(reader, gap.port), work);
                    }
                    work.record(Record::Gap(gap));
                }
                capture::Record::Note(note) => {
                    work.record(Record::Note(Note::from(note)));
                }
                capture::Record::End(tail) => {
                    *ended = true;
                    for port in 0..cutter.ports() {
                        cutter.end(port, wiring(reader, port), work);
                    }
                    let mut note = |text| {
                        work.record(Record::Note(Note { at: None, port: None, text }));
                    };
                    if reader.foreign() > 0 {
                        let count = reader.foreign();
                        note(format!("{count} {FOREIGN}"));
                    }
                    if tail != Tail::Whole {
                        note(tail.to_string());
                        *torn = Some(Torn { name: None, tail });
                    }
                    return Ok(());
                }
            }
        }
        Ok(())
    }

    fn fill_from_several(&mut self, work: &mut Work) -> Result<(), Fail> {
        let Self { inner: Inner::Several(merge), cutter, wish, torn, ended, .. } = self else {
            return Ok(());
        };
        let wiring = |merge: &Merge, port: u16| {
            wish.wiring(merge.ports().get(usize::from(port)).and_then(|port| port.wiring))
        };
        while work.batch.input.len() < WORK && work.taken < WORK {
            match merge.next()? {
                Some(Held::Chunk { at, port, direction, octets }) => {
                    let whence = Whence { at: Some(at), port, direction };
                    cutter.chunk(whence, wiring(merge, port), &octets, work);
                }
                Some(Held::Gap(gap)) => {
                    if gap.to.is_none() {
                        cutter.end(gap.port, wiring(merge, gap.port), work);
                    }
                    work.record(Record::Gap(gap));
                }
                Some(Held::Note(note)) => work.record(Record::Note(Note::from(note))),
                None => {
                    *ended = true;
                    for port in 0..cutter.ports() {
                        cutter.end(port, wiring(merge, port), work);
                    }
                    let mut note = |text| work.record(Record::Note(Note { at: None, port: None, text }));
                    for (name, tail, foreign) in merge.tails() {
                        if foreign > 0 {
                            note(format!("{name}: {foreign} {FOREIGN}"));
                        }
                        if *tail != Tail::Whole {
                            note(format!("{name}: {tail}"));
                            torn.get_or_insert(Torn { name: Some(name.to_owned()), tail: tail.clone() });
                        }
                    }
                    return Ok(());
                }
            }
        }
        Ok(())
    }

    fn fill_from_octets(&mut self, work: &mut Work) -> Result<(), Fail> {
        let wiring = self.wish.wiring(None);
        let Inner::Octets { bytes, buffer } = &mut self.inner else { return Ok(()) };
        let whence = Whence { at: None, port: 0, direction: Direction::In };
        if wiring.framing == FramingName::Datagram {
            let limit = usize::from(u16::MAX);
            let mut all = Vec::new();
            let len = bytes.take(limit as u64 + 1).read_to_end(&mut all);
            if len.map_err(|error| Fail::io("cannot read the input", &error))? > limit {
                return Err(Fail::new(Exit::BadInput, "raw octets do not show where a datagram ends")
                    .next("give one datagram a file, one a line as hex text, or a capture"));
            }
            if !all.is_empty() {
                self.cutter.chunk(whence, wiring, &all, work);
            }
            self.finish(wiring, work);
            return Ok(());
        }
        let len = read(bytes, buffer)?;
        match buffer.get(..len) {
            Some(octets) if len > 0 => self.cutter.chunk(whence, wiring, octets, work),
            _ => self.finish(wiring, work),
        }
        Ok(())
    }

    fn fill_from_hex(&mut self, work: &mut Work) -> Result<(), Fail> {
        let wiring = self.wish.wiring(None);
        let Inner::Hex { bytes, buffer, text, octets } = &mut self.inner else { return Ok(()) };
        let whence = Whence { at: None, port: 0, direction: Direction::In };
        let len = read(bytes, buffer)?;
        let cutter = &mut self.cutter;
        let line_is_datagram = wiring.framing == FramingName::Datagram;
        let mut pass = |octets: &mut Vec<u8>| {
            if !octets.is_empty() {
                cutter.chunk(whence, wiring, octets, work);
                octets.clear();
            }
        };
        let mut fed = text.feed(buffer.get(..len).unwrap_or(&[]), octets, |octets| {
            if line_is_datagram {
                pass(octets);
            }
        });
        if len == 0 {
            fed = fed.and_then(|()| text.end());
        }
        let last = len == 0 || fed.is_err();
        if last || !line_is_datagram {
            pass(octets);
        }
        if last {
            self.finish(wiring, work);
        }
        fed
    }

    fn finish(&mut self, wiring: Wiring, work: &mut Work) {
        self.ended = true;
        self.cutter.end(0, wiring, work);
    }
}

fn read(bytes: &mut Bytes, buffer: &mut [u8]) -> Result<usize, Fail> {
    loop {
        match bytes.read(buffer) {
            Err(error) if error.kind() == std::io::ErrorKind::Interrupted => {}
            read => return read.map_err(|error| Fail::io("cannot read the input", &error)),
        }
    }
}
