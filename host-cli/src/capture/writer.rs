//! Items to pcapng blocks.

use super::{
    block::{
        BlockBuilder, INTERFACE, LINK_TYPE, MAGIC, OPTION_APPLICATION, OPTION_COMMENT, OPTION_HARDWARE,
        OPTION_NAME, OPTION_PACKET_FLAGS, OPTION_SPEED, OPTION_UNIT, PACKET, SECTION,
    },
    comment::{self, Remark},
};
use crate::endpoint::{Chunk, Direction, Gap, Note, PortInfo};

/// Appends pcapng blocks to a buffer; where they go from there, and when, is the caller's. Little-endian, units of
/// nanoseconds (`if_tsresol` 9) on every port, every block whole.
#[derive(Debug, Clone, Default)]
pub struct Writer {
    out: Vec<u8>,
}

impl Writer {
    /// A writer with an empty buffer.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// The blocks written since the buffer was last cleared.
    #[must_use]
    pub fn octets(&self) -> &[u8] {
        &self.out
    }

    /// Empties the buffer.
    pub fn clear(&mut self) {
        self.out.clear();
    }

    /// Appends the blocks of another writer.
    pub fn append(&mut self, other: &Writer) {
        self.out.extend_from_slice(&other.out);
    }

    /// Begins a section: everything before it is closed, and ports must be described anew.
    pub fn section(&mut self) {
        let mut block = BlockBuilder::new(&mut self.out, SECTION);
        block.octets(&MAGIC.to_le_bytes()).octets(&[1, 0, 0, 0]).octets(&(-1_i64).to_le_bytes());
        block.option(OPTION_APPLICATION, concat!("bellwire ", env!("CARGO_PKG_VERSION")).as_bytes()).close();
    }

    /// Describes the next port; the first of a section has index 0.
    pub fn port(&mut self, info: &PortInfo) {
        let mut block = BlockBuilder::new(&mut self.out, INTERFACE);
        block.octets(&LINK_TYPE.to_le_bytes()).octets(&[0; 6]).option(OPTION_NAME, info.name.as_bytes());
        if let Some(line) = info.line {
            block.option(OPTION_SPEED, &u64::from(line.rate).to_le_bytes());
        }
        block.option(OPTION_UNIT, &[9]);
        if let Some(identity) = &info.identity {
            block.option(OPTION_HARDWARE, identity.as_bytes());
        }
        if let Some(comment) = comment::of_port(info.wiring, info.line.map(|line| line.format)) {
            block.option(OPTION_COMMENT, comment.as_bytes());
        }
        block.close();
    }

    /// Octets with their time and direction.
    pub fn chunk(&mut self, chunk: &Chunk) {
        let mut block = packet(&mut self.out, chunk.at, chunk.port, &chunk.octets);
        let flags: u32 = match chunk.direction {
            Direction::In => 1,
            Direction::Out => 2,
        };
        block.option(OPTION_PACKET_FLAGS, &flags.to_le_bytes()).close();
    }

    /// A gap, as a packet without octets that carries a comment.
    pub fn gap(&mut self, gap: &Gap) {
        let why = gap.why.clone();
        match gap.to {
            None => self.remark(gap.from, gap.port, &Remark::GapBegins { why }),
            Some(to) => self.remark(to, gap.port, &Remark::GapEnds { from: gap.from, why }),
        }
    }

    /// A note, as a packet without octets that carries a comment.
    pub fn note(&mut self, note: &Note) {
        self.remark(note.at, note.port, &Remark::Note(note.text.clone()));
    }

    fn remark(&mut self, at: u64, port: u16, remark: &Remark) {
        packet(&mut self.out, at, port, &[]).option(OPTION_COMMENT, remark.to_comment().as_bytes()).close();
    }
}

/// Opens a packet block and fills its fixed part.
fn packet<'a>(out: &'a mut Vec<u8>, at: u64, port: u16, octets: &[u8]) -> BlockBuilder<'a> {
    let [high, low] =
        [at >> 32, at & 0xFFFF_FFFF].map(|half| u32::try_from(half).unwrap_or(u32::MAX).to_le_bytes());
    let len = u32::try_from(octets.len()).unwrap_or(u32::MAX).to_le_bytes();
    let mut block = BlockBuilder::new(out, PACKET);
    block
        .octets(&u32::from(port).to_le_bytes())
        .octets(&high)
        .octets(&low)
        .octets(&len)
        .octets(&len)
        .padded(octets);
    block
}
