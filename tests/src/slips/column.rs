//! What is compared: framings and FCS of the wire, and an experiment that is not on the wire.

use crate::vector::{FramingName, Line};

/// One column of the tables.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Column {
    /// Its head.
    pub name: &'static str,
    /// The line.
    pub line: Line,
    /// An experiment: the frame is led by an octet, under the FCS, that tells the octets of the frame without FCS; a receiver refuses a
    /// frame of another length. No board sends it.
    pub length_octet: bool,
}

/// All columns: four framings with both FCS, and the length octet with the two framings that stuff octets.
pub const COLUMNS: [Column; 10] = {
    const fn of(name: &'static str, framing: FramingName, fcs: u8, length_octet: bool) -> Column {
        Column { name, line: Line { framing, fcs, map: 0, buffer: 0 }, length_octet }
    }
    [
        of("COBS, 16", FramingName::Cobs, 16, false),
        of("octet stuffing, 16", FramingName::OctetStuffing, 16, false),
        of("SLIP, 16", FramingName::Slip, 16, false),
        of("datagram, 16", FramingName::Datagram, 16, false),
        of("COBS, 32", FramingName::Cobs, 32, false),
        of("octet stuffing, 32", FramingName::OctetStuffing, 32, false),
        of("SLIP, 32", FramingName::Slip, 32, false),
        of("datagram, 32", FramingName::Datagram, 32, false),
        of("octet stuffing, 16, length octet", FramingName::OctetStuffing, 16, true),
        of("SLIP, 16, length octet", FramingName::Slip, 16, true),
    ]
};
