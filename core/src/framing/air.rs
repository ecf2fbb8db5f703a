//! What a radio board and the computer on its UART say to each other of datagrams (W-63).

use crate::{
    fcs::{Fcs, Fcs16},
    framing::{Cobs, Framing, Lead, NoRoom},
    rules::holds,
};

/// How a frame of this layer begins: an EXTENDED control octet, and the extension AIR.
const BEGIN: [u8; 2] = [0xE0, 0x16];

/// The fewest octets of a datagram: those of the shortest frame (W-10).
pub const SHORTEST: usize = 4;

/// The most octets before a datagram.
pub(super) const MAX_HEAD: usize = 8;

/// The octet for a strength that is not told.
const NOT_TOLD: u8 = 255;

/// Why a radio board did not send a datagram.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[repr(u8)]
pub enum NotSent {
    /// None of the others.
    Other = 0,
    /// The one before is still going out, or the air is taken.
    Busy = 1,
    /// The airtime of the window is used up.
    Airtime = 2,
    /// Longer than the radio's packet.
    TooLong = 3,
    /// The radio does not answer.
    Broken = 4,
}

impl NotSent {
    /// The reason with this number on the wire; `None` if this version does not know it.
    #[must_use]
    pub const fn from_octet(octet: u8) -> Option<Self> {
        match octet {
            0 => Some(Self::Other),
            1 => Some(Self::Busy),
            2 => Some(Self::Airtime),
            3 => Some(Self::TooLong),
            4 => Some(Self::Broken),
            _ => None,
        }
    }

    /// The reason in plain words.
    #[must_use]
    pub const fn reason(self) -> &'static str {
        match self {
            Self::Other => "the radio board gave no reason",
            Self::Busy => "the air was busy",
            Self::Airtime => "the airtime of the window is used up",
            Self::TooLong => "longer than the radio's packet",
            Self::Broken => "the radio does not answer",
        }
    }
}

/// Why octets are no [`Air`] (W-63).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum NotAir {
    /// Another kind of frame.
    OtherFrame,
    /// A form that this version does not know.
    UnknownForm,
    /// Not the length that the form has, or a datagram shorter than any frame.
    BadLength,
    /// A reason that this version does not know.
    UnknownReason,
}

impl NotAir {
    /// What is wrong, in plain words.
    #[must_use]
    pub const fn reason(self) -> &'static str {
        match self {
            Self::OtherFrame => "not a frame of the radio board's layer",
            Self::UnknownForm => "a form that this version does not know",
            Self::BadLength => "not the length that its form has",
            Self::UnknownReason => "a reason that this version does not know",
        }
    }
}

impl core::fmt::Display for NotAir {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(self.reason())
    }
}

impl core::error::Error for NotAir {}

/// One frame between a radio board and the computer on its UART.
///
/// ```
/// use bellwire::framing::Air;
///
/// let heard = Air::Heard { at: 1_000_000, strength: Some(-93), datagram: &[0xA1, 0x34, 0x12, 0x00, 0x5C, 0x0E] };
/// let mut wire = [0; 32];
/// let len = heard.encode(&mut wire).unwrap();
/// assert_eq!(wire[..9], [0x00, 0x07, 0xE0, 0x16, 2, 0x40, 0x42, 0x0F, 0x05]);
/// assert_eq!(wire[9..len], [93, 0xA1, 0x34, 0x12, 0x05, 0x5C, 0x0E, 0xAF, 0x96, 0x00]);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Air<'a> {
    /// To the board: send this.
    Send {
        /// The datagram, at least [`SHORTEST`] octets.
        datagram: &'a [u8],
    },
    /// From the board: this was heard.
    Heard {
        /// When its first octet came, or what the radio tells instead; µs of the board's clock, wrapping.
        at: u32,
        /// How strong, dBm (-254..=0; others are written as the nearest), if the radio tells.
        strength: Option<i16>,
        /// The datagram, at least [`SHORTEST`] octets.
        datagram: &'a [u8],
    },
    /// From the board: it goes out.
    Sent {
        /// When it began to, µs of the board's clock, wrapping.
        at: u32,
        /// The last two octets of the datagram, which are of its FCS: they tell which.
        tail: [u8; 2],
    },
    /// From the board: it does not go out, for certain.
    NotSent {
        /// Why not.
        why: NotSent,
        /// The last two octets of the datagram.
        tail: [u8; 2],
    },
}

/// The last two octets of a datagram.
#[must_use]
pub fn tail_of(datagram: &[u8]) -> [u8; 2] {
    datagram.last_chunk().copied().unwrap_or([0; 2])
}

impl<'a> Air<'a> {
    /// The octets before the datagram, and the datagram.
    fn parts(&self) -> ([u8; MAX_HEAD], usize, &'a [u8]) {
        let [e, x] = BEGIN;
        match *self {
            Self::Send { datagram } => ([e, x, 1, 0, 0, 0, 0, 0], 3, datagram),
            Self::Heard { at, strength, datagram } => {
                let [a, b, c, d] = at.to_le_bytes();
                let strength = strength.map_or(NOT_TOLD, |dbm| {
                    u8::try_from(dbm.clamp(-254, 0).unsigned_abs()).unwrap_or(NOT_TOLD)
                });
                ([e, x, 2, a, b, c, d, strength], 8, datagram)
            }
            Self::Sent { at, .. } => {
                let [a, b, c, d] = at.to_le_bytes();
                ([e, x, 3, a, b, c, d, 0], 7, &[])
            }
            Self::NotSent { why, .. } => ([e, x, 4, why as u8, 0, 0, 0, 0], 4, &[]),
        }
    }

    /// As it goes over the UART: COBS, the 16-bit FCS, both delimiters. Gives the octets written.
    ///
    /// # Errors
    /// [`NoRoom`] if `out` is too short: 18 octets more than the datagram are enough for one of up to 1 000.
    pub fn encode(&self, out: &mut [u8]) -> Result<usize, NoRoom> {
        let (head, len, datagram) = self.parts();
        let tail: &[u8] = match self {
            Self::Sent { tail, .. } | Self::NotSent { tail, .. } => tail,
            _ => &[],
        };
        enclose(head.get(..len).unwrap_or(&head), &[datagram, tail], Lead::Delimiter, out)
    }

    /// Reads a checked frame, without its FCS.
    ///
    /// # Errors
    /// [`NotAir`]: what is wrong.
    pub fn read(frame: &'a [u8]) -> Result<Self, NotAir> {
        let (form, body) = match frame {
            [e, x, rest @ ..] if [*e, *x] == BEGIN => rest.split_first().ok_or(NotAir::BadLength)?,
            _ => return Err(NotAir::OtherFrame),
        };
        let long = |datagram: &[u8]| datagram.len() >= SHORTEST || !holds(63);
        match (form, body) {
            (1, datagram) if long(datagram) => Ok(Self::Send { datagram }),
            (2, [a, b, c, d, strength, datagram @ ..]) if long(datagram) => {
                let strength = Some(*strength).filter(|octet| *octet != NOT_TOLD);
                let strength = strength.map(|octet| i16::from(octet).wrapping_neg());
                Ok(Self::Heard { at: u32::from_le_bytes([*a, *b, *c, *d]), strength, datagram })
            }
            (3, &[a, b, c, d, x, y]) => Ok(Self::Sent { at: u32::from_le_bytes([a, b, c, d]), tail: [x, y] }),
            (4, &[why, x, y]) => {
                let why = NotSent::from_octet(why).ok_or(NotAir::UnknownReason)?;
                Ok(Self::NotSent { why, tail: [x, y] })
            }
            (1..=4, _) => Err(NotAir::BadLength),
            _ => Err(NotAir::UnknownForm),
        }
    }
}

/// A frame of `head` and at most four parts on the UART.
pub(super) fn enclose(head: &[u8], parts: &[&[u8]], lead: Lead, out: &mut [u8]) -> Result<usize, NoRoom> {
    let fcs = parts.iter().fold(Fcs16::update(Fcs16::INIT, head), |fcs, part| Fcs16::update(fcs, part));
    let [low, high, ..] = Fcs16::octets(fcs);
    let fcs = [low, high];
    let &[a, b, c, d] = &match *parts {
        [] => [&[][..]; 4],
        [a] => [a, &[], &[], &[]],
        [a, b] => [a, b, &[], &[]],
        [a, b, c] => [a, b, c, &[]],
        [a, b, c, d] => [a, b, c, d],
        _ => return Err(NoRoom),
    };
    Cobs.encode(&[head, a, b, c, d, &fcs], lead, out)
}

/// What stands before a datagram that is to be sent.
pub(super) const SEND: [u8; 3] = [BEGIN[0], BEGIN[1], 1];

#[cfg(test)]
mod tests;
