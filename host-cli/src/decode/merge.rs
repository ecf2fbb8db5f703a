//! Several captures on one timeline: what they hold in order of time, with the ports of all of them.

use super::input::Bytes;
use crate::{
    capture::{Reader, Record, Tail, is_capture},
    endpoint::{Direction, Gap, Note, PortInfo},
    exit::Exit,
    fail::Fail,
};
use std::io::{Cursor, Read};

/// What a capture holds, by the port numbers of the merge.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Held {
    Chunk { at: u64, port: u16, direction: Direction, octets: Vec<u8> },
    Gap(Gap),
    Note(Note),
}

impl Held {
    const fn at(&self) -> u64 {
        match self {
            Self::Chunk { at, .. } => *at,
            // A gap is told where it begins, and again where it ends.
            Self::Gap(Gap { from, to, .. }) => match to {
                Some(to) => *to,
                None => *from,
            },
            Self::Note(note) => note.at,
        }
    }

    const fn port(&mut self) -> &mut u16 {
        match self {
            Self::Chunk { port, .. } => port,
            Self::Gap(gap) => &mut gap.port,
            Self::Note(note) => &mut note.port,
        }
    }
}

/// One capture of several.
struct One {
    name: String,
    reader: Reader<Bytes>,
    /// Its next record, read ahead.
    next: Option<Held>,
    tail: Option<Tail>,
    /// The number in the merge of each of its ports.
    numbers: Vec<u16>,
}

/// Several captures, read side by side.
pub(super) struct Merge {
    captures: Vec<One>,
    ports: Vec<PortInfo>,
}

impl Merge {
    /// Begins to read; each comes with its name.
    pub(super) fn new(inputs: Vec<(String, Bytes)>) -> Result<Self, Fail> {
        let mut merge = Self { captures: Vec::new(), ports: Vec::new() };
        for (name, bytes) in inputs {
            let reader = open(bytes).map_err(|fail| fail.at(name.as_str()))?;
            merge.captures.push(One { name, reader, next: None, tail: None, numbers: Vec::new() });
        }
        (0..merge.captures.len()).try_for_each(|index| merge.advance(index))?;
        Ok(merge)
    }

    /// The ports of all captures, as far as known.
    pub(super) fn ports(&self) -> &[PortInfo] {
        &self.ports
    }

    /// The earliest record of all; of those with one time the one of the capture that was named first. `None` at the end of all.
    pub(super) fn next(&mut self) -> Result<Option<Held>, Fail> {
        let ahead = self.captures.iter().enumerate();
        let first = ahead.filter_map(|(index, one)| Some((one.next.as_ref()?.at(), index))).min();
        let Some((_, index)) = first else { return Ok(None) };
        let held = self.captures[index].next.take();
        self.advance(index)?;
        Ok(held)
    }

    /// Reads a capture's next record.
    fn advance(&mut self, index: usize) -> Result<(), Fail> {
        let One { name, reader, next, tail, numbers } = &mut self.captures[index];
        let mut held = match reader.read().map_err(|fail| fail.at(name.as_str()))? {
            Record::Chunk { at, port, direction, octets } => {
                Held::Chunk { at, port, direction, octets: octets.to_vec() }
            }
            Record::Gap(gap) => Held::Gap(gap),
            Record::Note(note) => Held::Note(note),
            Record::End(end) => {
                *tail = Some(end);
                return Ok(());
            }
        };
        for port in reader.ports().iter().skip(numbers.len()) {
            numbers.push(u16::try_from(self.ports.len()).unwrap_or(u16::MAX));
            self.ports.push(PortInfo { name: format!("{} in {name}", port.name), ..port.clone() });
        }
        let port = held.port();
        *port = numbers.get(usize::from(*port)).copied().unwrap_or(u16::MAX);
        *next = Some(held);
        Ok(())
    }

    /// At the end: of each capture its name, how it ended, and packets that were no octets of a line.
    pub(super) fn tails(&self) -> impl Iterator<Item = (&str, &Tail, u64)> {
        let end = |one: &One| one.tail.is_some();
        self.captures
            .iter()
            .filter(move |one| end(one))
            .map(|one| (one.name.as_str(), one.tail.as_ref().unwrap_or(&Tail::Whole), one.reader.foreign()))
    }
}

fn open(mut bytes: Bytes) -> Result<Reader<Bytes>, Fail> {
    let mut head = Vec::new();
    let read = bytes.by_ref().take(4).read_to_end(&mut head);
    read.map_err(|error| Fail::io("cannot read the input", &error))?;
    if !is_capture(&head) {
        return Err(Fail::new(Exit::BadInput, "only captures have times by which several can be merged")
            .next("decode this one by itself"));
    }
    Reader::new(Box::new(Cursor::new(head).chain(bytes)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{capture::Writer, endpoint::Chunk};

    /// A capture of one port with a chunk at each of these times.
    fn captured(name: &str, port: &str, times: &[u64]) -> (String, Bytes) {
        let mut writer = Writer::new();
        writer.section();
        writer.port(&PortInfo::named(port.to_owned()));
        for &at in times {
            writer.chunk(&Chunk { at, port: 0, direction: Direction::In, octets: vec![0] });
        }
        (name.to_owned(), Box::new(Cursor::new(writer.octets().to_vec())))
    }

    /// Two captures whose records interleave: the order is that of time, whichever is named first; ports are numbered on.
    #[test]
    fn records_come_in_order_of_time_with_the_ports_numbered_on() {
        let one = || captured("desk.pcapng", "dome", &[10, 30, 30, 70]);
        let other = || captured("field.pcapng", "radio", &[20, 30, 40]);
        for (inputs, wanted) in [
            ([one(), other()], [(10, 0), (20, 1), (30, 0), (30, 0), (30, 1), (40, 1), (70, 0)]),
            ([other(), one()], [(10, 1), (20, 0), (30, 0), (30, 1), (30, 1), (40, 0), (70, 1)]),
        ] {
            let mut merge = Merge::new(inputs.into()).unwrap();
            let mut seen = Vec::new();
            while let Some(mut held) = merge.next().unwrap() {
                seen.push((held.at(), *held.port()));
            }
            assert_eq!(seen, wanted);
            assert_eq!(merge.ports().len(), 2);
            assert!(
                merge.ports().iter().any(|port| port.name == "radio in field.pcapng"),
                "{:?}",
                merge.ports()
            );
            assert!(merge.tails().all(|(_, tail, foreign)| *tail == Tail::Whole && foreign == 0));
        }
    }

    #[test]
    fn what_is_no_capture_is_refused_by_name() {
        let hex: Bytes = Box::new(&b"00 07 41 1c 09 28 b6 ac 00"[..]);
        let fail =
            Merge::new(vec![captured("desk.pcapng", "dome", &[1]), ("lone.hex".into(), hex)]).err().unwrap();
        assert_eq!(fail.exit(), Exit::BadInput);
        assert!(fail.to_string().contains("lone.hex") && fail.to_string().contains("times"), "{fail}");
    }
}
