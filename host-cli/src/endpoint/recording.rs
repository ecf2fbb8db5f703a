//! A capture file as a source, as fast as it can be read.

use std::{fs::File, path::Path, time::Duration};

use super::{Chunk, Item, Note, PortInfo, Source};
use crate::{
    capture::{Reader, Record, Tail},
    exit::Exit,
    fail::Fail,
};

/// A capture being read.
pub(super) struct Recording {
    reader: Reader<File>,
    name: String,
    last: u64,
    ended: bool,
}

impl Recording {
    /// Opens a capture.
    ///
    /// # Errors
    /// If it cannot be read, or is none.
    pub(super) fn open(path: &Path) -> Result<Self, Fail> {
        let name = path.display().to_string();
        let file = File::open(path).map_err(|error| {
            Fail::io("cannot open the capture", &error).at(&name).next("is the path spelled right?")
        })?;
        let reader = Reader::new(file).map_err(|fail| fail.at(&name))?;
        Ok(Recording { reader, name, last: 0, ended: false })
    }

    fn end(&mut self, tail: &Tail) -> Result<Option<Item>, Fail> {
        if std::mem::replace(&mut self.ended, true) {
            return Ok(Some(Item::End));
        }
        match tail {
            Tail::Whole => Ok(Some(Item::End)),
            Tail::Torn { .. } => {
                Ok(Some(Item::Note(Note { at: self.last, port: 0, text: tail.to_string() })))
            }
            Tail::Damaged { .. } => Err(Fail::new(Exit::BadInput, tail.to_string()).at(&self.name)),
        }
    }
}

impl Source for Recording {
    fn next(&mut self, _wait: Duration) -> Result<Option<Item>, Fail> {
        let item = match self.reader.read()? {
            Record::Chunk { at, port, direction, octets } => {
                Item::Chunk(Chunk { at, port, direction, octets: octets.to_vec() })
            }
            Record::Gap(gap) => Item::Gap(gap),
            Record::Note(note) => Item::Note(note),
            Record::End(tail) => return self.end(&tail),
        };
        self.last = item.at().unwrap_or(self.last);
        Ok(Some(item))
    }

    fn ports(&self) -> &[PortInfo] {
        self.reader.ports()
    }

    fn is_live(&self) -> bool {
        false
    }
}
