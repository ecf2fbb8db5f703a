//! Receive only: reads every frame on a line and sends nothing.

use bellwire::{
    fcs::Fcs16,
    frame::{Read, Reader},
    framing::Cobs,
    io::Line,
    time::Instant,
};

use crate::log::log;

/// What a listener has heard since its start.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Heard {
    /// Frames that are whole.
    pub frames: u32,
    /// Frames or pieces that break a rule.
    pub refused: u32,
    /// Octets of foreign text.
    pub text: u32,
}

/// A board that taps a line: it needs no answer, so it may join and leave at any time.
#[derive(Debug)]
pub struct Listener<L> {
    line: L,
    reader: Reader<Cobs, Fcs16, 64>,
    heard: Heard,
}

impl<L: Line> Listener<L> {
    /// A listener that has heard nothing.
    pub fn new(line: L) -> Self {
        Self { line, reader: Reader::new(Cobs), heard: Heard::default() }
    }

    /// Takes what is there, and gives what was heard so far.
    ///
    /// # Errors
    /// The line's.
    pub fn turn(&mut self, now: Instant) -> Result<Heard, L::Error> {
        let mut octets = [0; 32];
        loop {
            let taken = self.line.take(now, &mut octets)?.octets;
            if taken == 0 {
                return Ok(self.heard);
            }
            self.hear(octets.get(..taken).unwrap_or_default());
        }
    }

    fn hear(&mut self, mut rest: &[u8]) {
        let Self { reader, heard, .. } = self;
        while !rest.is_empty() {
            let (done, read) = reader.feed(rest);
            if let Some(read) = &read {
                log!("{}", read);
            }
            let (counter, more) = match read {
                Some(Read::Frame(_)) => (&mut heard.frames, 1),
                Some(Read::Refused { .. }) => (&mut heard.refused, 1),
                Some(Read::Text(text)) => (&mut heard.text, u32::try_from(text.len()).unwrap_or(u32::MAX)),
                None if done == 0 => return,
                None => (&mut heard.text, 0),
            };
            *counter = counter.saturating_add(more);
            rest = rest.get(done..).unwrap_or_default();
        }
    }

    /// The line.
    pub const fn line(&self) -> &L {
        &self.line
    }
}
