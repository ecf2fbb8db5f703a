//! The bodies of a transfer (W-52): reading and writing.

use super::{MAX_WINDOW, Progress, Reason, Refused, parts::Parts};
use crate::rules::holds;
use core::ops::Range;

/// The largest content, octets: 16 MiB.
pub const MAX_SIZE: u32 = 1 << 24;

/// Octets of an OFFER.
pub const OFFER_LEN: usize = 14;

/// Octets of a MAP.
pub const MAP_LEN: usize = 12;

/// Octets of a PART before its content.
pub const PART_HEAD: usize = 7;

/// Which transfer: its number, and the low half of the CRC of its whole content.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Id {
    /// The sender's number for it.
    pub number: u8,
    /// Low half of the CRC.
    pub tag: u16,
}

/// What a sender has to give.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Offer {
    /// The sender's number for this transfer. The same content under the same number is the same transfer, and goes on where it was; under another
    /// number it is sent again. So take another one for each new transfer, and the old one again after a restart.
    pub number: u8,
    /// CRC-32/ISO-HDLC of the whole content ([`Whole`](super::Whole)).
    pub crc: u32,
    /// Octets in all, 1..=[`MAX_SIZE`].
    pub size: u32,
    /// Octets of each part but the last, 8..=1024. With [`PART_HEAD`] and the extension octet they must fit the frame.
    pub part: u16,
    /// What it is, by your own agreement: a configuration, a log, a picture …
    pub topic: u16,
}

impl Offer {
    /// Which transfer it is.
    #[must_use]
    pub const fn id(&self) -> Id {
        let [low, high, ..] = self.crc.to_le_bytes();
        Id { number: self.number, tag: u16::from_le_bytes([low, high]) }
    }

    /// Whether such a transfer can be (W-52).
    #[must_use]
    pub fn is_sound(&self) -> bool {
        (1..=MAX_SIZE).contains(&self.size) && (8..=1024).contains(&self.part)
    }

    /// How many parts.
    #[must_use]
    pub const fn parts(&self) -> u32 {
        let part = self.part as u32;
        self.size.div_ceil(if part == 0 { 1 } else { part })
    }

    /// Where part `index` lies in the content; `None` if there is no such part.
    #[must_use]
    pub fn place(&self, index: u32) -> Option<Range<u32>> {
        let start = index.checked_mul(u32::from(self.part))?;
        (index < self.parts()).then(|| start..start.saturating_add(u32::from(self.part)).min(self.size))
    }

    pub(super) fn progress(&self, parts: &Parts) -> Progress {
        let full = parts.count().saturating_mul(u32::from(self.part));
        let last = self.parts().saturating_sub(1);
        // The last part may be short.
        let short = last.saturating_add(1).saturating_mul(u32::from(self.part)).saturating_sub(self.size);
        let held = if parts.has(last) { full.saturating_sub(short) } else { full };
        Progress { held, size: self.size }
    }
}

/// What a receiver holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Map {
    /// The lowest part that is not held; the number of parts if all are.
    pub base: u32,
    /// Bit i: part base+1+i is held.
    pub held: u32,
    /// How many parts from base on may be under way, 1..=[`MAX_WINDOW`].
    pub window: u8,
}

/// A body of the TRANSFER extension.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Message<'a> {
    /// From the sender: take this?
    Offer {
        /// What it is.
        offer: Offer,
        /// Number of the asking, 0..=15.
        round: u8,
    },
    /// From the sender: one part.
    Part {
        /// Of which transfer.
        id: Id,
        /// Which part.
        index: u32,
        /// Number of the asking, if it asks for a map.
        asks: Option<u8>,
        /// Its content.
        octets: &'a [u8],
    },
    /// From the sender: what have you got?
    Ask {
        /// Of which transfer.
        id: Id,
        /// Number of the asking.
        round: u8,
    },
    /// From the receiver: this.
    Map {
        /// Of which transfer.
        id: Id,
        /// Number of the asking that it answers.
        round: u8,
        /// What is held.
        map: Map,
    },
    /// From the receiver: all of it, and the whole has its CRC.
    Done(Id),
    /// From the sender: it ends here.
    Stop(Id, Reason),
    /// From the receiver: it ends here.
    Refuse(Id, Reason),
}

/// The low three octets of a number.
pub(super) const fn three(number: u32) -> [u8; 3] {
    let [low, middle, high, _] = number.to_le_bytes();
    [low, middle, high]
}

/// Octets taken one after the other.
struct Octets<'a>(&'a [u8]);

impl Octets<'_> {
    fn take<const N: usize>(&mut self) -> Result<[u8; N], Refused> {
        let (&first, rest) = self.0.split_first_chunk::<N>().ok_or(Refused::BadLength)?;
        self.0 = rest;
        Ok(first)
    }

    fn number(&mut self) -> Result<u32, Refused> {
        let [low, middle, high] = self.take()?;
        Ok(u32::from_le_bytes([low, middle, high, 0]))
    }

    fn id(&mut self) -> Result<Id, Refused> {
        let [number] = self.take()?;
        Ok(Id { number, tag: u16::from_le_bytes(self.take()?) })
    }
}

impl<'a> Message<'a> {
    /// Reads a body.
    ///
    /// # Errors
    /// [`Refused::BadLength`] or [`Refused::BadField`] (W-52).
    pub fn parse(body: &'a [u8]) -> Result<Self, Refused> {
        let mut octets = Octets(body);
        let [what] = octets.take()?;
        let round = what >> 4;
        let message = match what & 15 {
            1 => {
                let [number] = octets.take()?;
                let crc = u32::from_le_bytes(octets.take()?);
                let size = u32::from_le_bytes(octets.take()?);
                let part = u16::from_le_bytes(octets.take()?);
                let offer = Offer { number, crc, size, part, topic: u16::from_le_bytes(octets.take()?) };
                if !offer.is_sound() && holds(52) {
                    return Err(Refused::BadField);
                }
                Self::Offer { offer, round }
            }
            kind @ (2 | 3) => {
                let (id, index) = (octets.id()?, octets.number()?);
                let asks = (kind == 3).then_some(round);
                return Ok(Self::Part { id, index, asks, octets: octets.0 });
            }
            4 => Self::Ask { id: octets.id()?, round },
            5 => {
                let (id, base) = (octets.id()?, octets.number()?);
                let held = u32::from_le_bytes(octets.take()?);
                let [window] = octets.take()?;
                if !(1..=MAX_WINDOW).contains(&window) {
                    return Err(Refused::BadField);
                }
                Self::Map { id, round, map: Map { base, held, window } }
            }
            6 => Self::Done(octets.id()?),
            kind @ (7 | 8) => {
                let id = octets.id()?;
                let [code] = octets.take()?;
                let end = if kind == 7 { Self::Stop } else { Self::Refuse };
                end(id, Reason::from_code(code))
            }
            _ => return Err(Refused::BadLength),
        };
        if octets.0.is_empty() { Ok(message) } else { Err(Refused::BadLength) }
    }

    /// Writes the body; gives its length, or `None` if `out` is too short ([`OFFER_LEN`] suffices for all but a part).
    pub fn write(&self, out: &mut [u8]) -> Option<usize> {
        let mut cells = out.iter_mut();
        let mut len = 0_usize;
        let mut put = |octets: &[u8]| -> Option<()> {
            for &octet in octets {
                *cells.next()? = octet;
                len = len.saturating_add(1);
            }
            Some(())
        };
        let what = |kind: u8, round: u8| [round << 4 | kind];
        let mut head = |kind: [u8; 1], id: &Id| -> Option<()> {
            put(&kind)?;
            put(&[id.number])?;
            put(&id.tag.to_le_bytes())
        };
        match self {
            Self::Offer { offer, round } => {
                put(&what(1, *round))?;
                put(&[offer.number])?;
                put(&offer.crc.to_le_bytes())?;
                put(&offer.size.to_le_bytes())?;
                put(&offer.part.to_le_bytes())?;
                put(&offer.topic.to_le_bytes())?;
            }
            Self::Part { id, index, asks, octets } => {
                head(asks.map_or(what(2, 0), |round| what(3, round)), id)?;
                put(&three(*index))?;
                put(octets)?;
            }
            Self::Ask { id, round } => head(what(4, *round), id)?,
            Self::Map { id, round, map } => {
                head(what(5, *round), id)?;
                put(&three(map.base))?;
                put(&map.held.to_le_bytes())?;
                put(&[map.window])?;
            }
            Self::Done(id) => head(what(6, 0), id)?,
            Self::Stop(id, reason) => {
                head(what(7, 0), id)?;
                put(&[*reason as u8])?;
            }
            Self::Refuse(id, reason) => {
                head(what(8, 0), id)?;
                put(&[*reason as u8])?;
            }
        }
        Some(len)
    }
}
