//! A batch of octets and the pieces found in it.

use super::aired::Aired;
use bellwire::frame::{Header, Reject};

/// What was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Found {
    Frame(Header),
    Text,
    Refused(Reject),
}

/// No message number.
pub(crate) const NOT_PLAIN: u16 = u16::MAX;

/// One thing found, with its octets in the batch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Piece {
    pub(crate) found: Found,
    /// Octets on the wire since the piece before.
    pub(crate) wire: u32,
    pub(super) at: At,
    pub(super) len: u32,
    /// Message number of a frame with nothing in its head but kind, session and number; else [`NOT_PLAIN`].
    pub(crate) message: u16,
    /// Which sending of its number a frame is; 1 until an observer has seen it.
    pub(crate) sending: u8,
    /// Fingerprint that the sender of a frame has stated; 0 until an observer has seen it.
    pub(crate) agreement: u32,
}

impl Piece {
    /// Octets in the batch.
    pub(crate) const fn len(&self) -> u32 {
        self.len
    }
}

/// Where the octets of a piece lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum At {
    /// In the input, decoded where it lay.
    Input(u32),
    /// In what a reader handed out.
    Spill(u32),
    /// There, too, after the [`LEAD`] octets of what a radio board told.
    Aired(u32),
}

/// Octets and what they hold, in order.
#[derive(Debug, Clone, Default)]
pub(crate) struct Batch {
    pub(crate) pieces: Vec<Piece>,
    /// The input. What a splitter has been over is not as it was.
    pub(crate) input: Vec<u8>,
    pub(super) spill: Vec<u8>,
}

/// Octets in which what a radio board told is kept before those of a piece: form, time, strength.
const LEAD: usize = 6;
/// A strength that the radio does not tell.
const NOT_TOLD: u8 = 255;

impl Batch {
    pub(crate) fn clear(&mut self) {
        self.pieces.clear();
        self.input.clear();
        self.spill.clear();
    }

    /// The payload of a frame, the octets of a text or what is left of a refused candidate.
    pub(crate) fn octets(&self, piece: &Piece) -> &[u8] {
        let (store, start) = match piece.at {
            At::Input(start) => (&self.input, start as usize),
            At::Spill(start) | At::Aired(start) => (&self.spill, start as usize),
        };
        store.get(start..start + piece.len as usize).unwrap_or(&[])
    }

    pub(super) fn push(&mut self, found: Found, octets: &[u8], wire: usize) {
        self.place(found, At::Spill(offset(self.spill.len())), octets, wire);
    }

    /// As [`Batch::push`], of a datagram of a radio board.
    pub(super) fn push_aired(&mut self, found: Found, aired: Aired, octets: &[u8], wire: usize) {
        let (form, at, strength) = match aired {
            Aired::Out => (1, 0, None),
            Aired::Heard { at, strength } => (2, at, strength),
        };
        let [a, b, c, d] = at.to_le_bytes();
        let strength = strength.and_then(|dbm| u8::try_from(dbm.unsigned_abs()).ok()).unwrap_or(NOT_TOLD);
        self.spill.extend_from_slice(&[form, a, b, c, d, strength]);
        self.place(found, At::Aired(offset(self.spill.len())), octets, wire);
    }

    /// What a radio board told of a piece.
    pub(crate) fn aired(&self, piece: &Piece) -> Option<Aired> {
        let At::Aired(start) = piece.at else { return None };
        let lead = self.spill.get((start as usize).checked_sub(LEAD)?..)?.first_chunk::<LEAD>()?;
        let &[form, a, b, c, d, strength] = lead;
        let strength = Some(strength).filter(|dbm| *dbm != NOT_TOLD).map(|dbm| -i16::from(dbm));
        Some(if form == 1 {
            Aired::Out
        } else {
            Aired::Heard { at: u32::from_le_bytes([a, b, c, d]), strength }
        })
    }

    fn place(&mut self, found: Found, at: At, octets: &[u8], wire: usize) {
        self.spill.extend_from_slice(octets);
        let (wire, len) = (offset(wire), offset(octets.len()));
        self.pieces.push(Piece { found, wire, at, len, message: NOT_PLAIN, sending: 1, agreement: 0 });
    }
}

/// An offset within a batch; batches are far below 4 GiB.
#[allow(clippy::cast_possible_truncation)]
pub(super) const fn offset(offset: usize) -> u32 {
    offset as u32
}
