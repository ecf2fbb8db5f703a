//! Framing and frame check sequence by name, as options and captures give them.

use core::fmt;
use core::str::FromStr;

/// A framing by name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum FramingName {
    /// COBS with zero delimiters, the default on a stream.
    #[default]
    Cobs,
    /// Octet stuffing of RFC 1662.
    OctetStuffing,
    /// SLIP of RFC 1055.
    Slip,
    /// None: one frame a datagram.
    Datagram,
    /// Datagrams by way of a radio board on a UART (section 11.5 of the wire text).
    RadioBoard,
}

impl FramingName {
    /// All framings, the default first.
    pub const ALL: [FramingName; 5] = [
        FramingName::Cobs,
        FramingName::OctetStuffing,
        FramingName::Slip,
        FramingName::Datagram,
        FramingName::RadioBoard,
    ];

    /// Those of a line that both boards share: what one writes the other reads, as it is.
    pub const DIRECT: [FramingName; 4] =
        [FramingName::Cobs, FramingName::OctetStuffing, FramingName::Slip, FramingName::Datagram];

    /// The name in options and captures.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            FramingName::Cobs => "cobs",
            FramingName::OctetStuffing => "octet-stuffing",
            FramingName::Slip => "slip",
            FramingName::Datagram => "datagram",
            FramingName::RadioBoard => "radio-board",
        }
    }

    /// Whether the link does not keep the order of frames, so that they carry a tag (W-14) and copies may live for a while. Such a link is taken for an open
    /// way (W-67): a radio, or a network that strangers reach.
    #[must_use]
    pub const fn is_unordered(self) -> bool {
        matches!(self, FramingName::Datagram | FramingName::RadioBoard)
    }
}

impl fmt::Display for FramingName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

impl FromStr for FramingName {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        Self::ALL.into_iter().find(|framing| framing.name() == text).ok_or_else(|| {
            format!("`{text}` is no framing: use cobs, octet-stuffing, slip, datagram or radio-board")
        })
    }
}

/// A frame check sequence by its width.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum FcsName {
    /// 16 bits, IBM-SDLC.
    #[default]
    Bits16,
    /// 32 bits, ISO-HDLC.
    Bits32,
}

impl FcsName {
    /// Both, the default first.
    pub const ALL: [FcsName; 2] = [FcsName::Bits16, FcsName::Bits32];

    /// The name in options and captures.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            FcsName::Bits16 => "16",
            FcsName::Bits32 => "32",
        }
    }

    /// Its width in bits.
    #[must_use]
    pub const fn bits(self) -> u8 {
        match self {
            FcsName::Bits16 => 16,
            FcsName::Bits32 => 32,
        }
    }
}

impl fmt::Display for FcsName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

impl FromStr for FcsName {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        Self::ALL
            .into_iter()
            .find(|fcs| fcs.name() == text)
            .ok_or_else(|| format!("`{text}` is no frame check sequence: use 16 or 32"))
    }
}

/// How frames travel on a port: what must be known to decode it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Wiring {
    /// The framing.
    pub framing: FramingName,
    /// The frame check sequence.
    pub fcs: FcsName,
    /// Control-character map of octet stuffing: bit n keeps octet n off the wire. Other framings take no notice of it.
    pub map: u32,
}
