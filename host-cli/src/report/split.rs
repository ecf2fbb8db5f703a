//! Octets to what they hold, in batches: one pass over many octets, without an allocation for each frame.

use crate::endpoint::{FcsName, FramingName, Wiring};
use bellwire::{
    fcs::{Fcs, Fcs16, Fcs32},
    frame::{Header, Read, Reader, Reject},
    framing::{Cobs, ControlMap, Datagram, Framing, OctetStuffing, Slip},
};

/// Takes every frame that a link may state: 1024 octets of payload.
pub(crate) const LONGEST: usize = 1040;

/// What was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Found {
    Frame(Header),
    Text,
    Refused(Reject),
}

/// One thing found, with its octets in the batch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Piece {
    pub(crate) found: Found,
    /// Octets on the wire since the piece before.
    pub(crate) wire: u32,
    start: u32,
    len: u32,
    /// Which sending of its number a frame is; 1 until an observer has seen it.
    pub(crate) sending: u8,
}

impl Piece {
    /// Octets in the batch.
    pub(crate) const fn len(&self) -> u32 {
        self.len
    }
}

/// What a stretch of octets holds, in order.
#[derive(Debug, Clone, Default)]
pub(crate) struct Batch {
    pub(crate) pieces: Vec<Piece>,
    arena: Vec<u8>,
}

impl Batch {
    pub(crate) fn clear(&mut self) {
        self.pieces.clear();
        self.arena.clear();
    }

    /// The payload of a frame, the octets of a text or what is left of a refused candidate.
    pub(crate) fn octets(&self, piece: &Piece) -> &[u8] {
        let start = piece.start as usize;
        self.arena.get(start..start + piece.len as usize).unwrap_or(&[])
    }

    #[allow(clippy::cast_possible_truncation)] // batches are far below 4 GiB
    fn push(&mut self, found: Found, octets: &[u8], wire: usize) {
        let start = self.arena.len() as u32;
        self.arena.extend_from_slice(octets);
        self.pieces.push(Piece { found, wire: wire as u32, start, len: octets.len() as u32, sending: 1 });
    }
}

/// Splits the octets of one port and direction; any cut of the octets gives the same pieces.
pub(crate) trait Split: Send {
    /// Appends what is complete in `octets` to the batch.
    fn split(&mut self, octets: &[u8], batch: &mut Batch);
    /// What looks like text and waits for its end.
    fn pending_text(&self) -> &[u8];
    /// Octets since the last delimiter: of a candidate that waits for its end.
    fn inside(&self) -> usize;
    /// Octets since the last piece, counted from zero again.
    fn take_open(&mut self) -> usize;
    /// Forgets what was collected, as if a delimiter had just come.
    fn reset(&mut self);
}

struct Splitter<F: Framing, C: Fcs> {
    reader: Reader<F, C, LONGEST>,
    open: usize,
    inside: usize,
}

impl<F: Framing + Send, C: Fcs + Send> Split for Splitter<F, C>
where
    F::State: Send,
{
    fn split(&mut self, octets: &[u8], batch: &mut Batch) {
        match F::DELIMITER.map(|delimiter| memchr::memrchr(delimiter, octets)) {
            Some(Some(last)) => self.inside = octets.len() - last - 1,
            Some(None) => self.inside += octets.len(),
            None => {}
        }
        let mut rest = octets;
        while !rest.is_empty() {
            let (taken, read) = self.reader.feed(rest);
            self.open += taken;
            rest = rest.get(taken..).unwrap_or(&[]);
            let (found, octets) = match read {
                Some(Read::Frame(view)) => (Found::Frame(view.header), view.payload),
                Some(Read::Text(text)) => (Found::Text, text),
                Some(Read::Refused { reject, octets }) => (Found::Refused(reject), octets),
                None if taken == 0 => return,
                None => continue,
            };
            batch.push(found, octets, std::mem::take(&mut self.open));
        }
    }

    fn pending_text(&self) -> &[u8] {
        self.reader.pending_text()
    }

    fn inside(&self) -> usize {
        self.inside
    }

    fn take_open(&mut self) -> usize {
        std::mem::take(&mut self.open)
    }

    fn reset(&mut self) {
        self.reader.reset();
        (self.open, self.inside) = (0, 0);
    }
}

/// The octet that ends a frame in this framing, if any.
pub(crate) const fn delimiter(framing: FramingName) -> Option<u8> {
    match framing {
        FramingName::Cobs => Cobs::DELIMITER,
        FramingName::OctetStuffing => OctetStuffing::DELIMITER,
        FramingName::Slip => Slip::DELIMITER,
        FramingName::Datagram => None,
    }
}

/// A splitter for this wiring.
pub(crate) fn splitter(wiring: Wiring) -> Box<dyn Split> {
    match wiring.framing {
        FramingName::Cobs => with_fcs(Cobs, wiring.fcs),
        FramingName::OctetStuffing => with_fcs(OctetStuffing::new(ControlMap(wiring.map)), wiring.fcs),
        FramingName::Slip => with_fcs(Slip, wiring.fcs),
        FramingName::Datagram => with_fcs(Datagram, wiring.fcs),
    }
}

fn with_fcs<F: Framing + Send + 'static>(framing: F, fcs: FcsName) -> Box<dyn Split>
where
    F::State: Send,
{
    match fcs {
        FcsName::Bits16 => {
            Box::new(Splitter::<F, Fcs16> { reader: Reader::new(framing), open: 0, inside: 0 })
        }
        FcsName::Bits32 => {
            Box::new(Splitter::<F, Fcs32> { reader: Reader::new(framing), open: 0, inside: 0 })
        }
    }
}
