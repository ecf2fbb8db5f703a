//! The settings of a line, the same for every command: rate, format, framing, FCS.

use clap::Args;

use super::units;
use crate::endpoint::{FcsName, FramingName, LineFormat, LineSettings, Wiring};

/// How the octets of a line become frames.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Args)]
pub struct FrameArgs {
    /// How frames are told apart: cobs, octet-stuffing, slip, datagram, or radio-board (datagrams of a radio
    /// board on a UART); without it what a capture says of itself, datagram on udp:, and cobs elsewhere.
    #[arg(long, value_name = "FRAMING", help_heading = "Line")]
    pub framing: Option<FramingName>,
    /// Control-character map of octet stuffing: bit n keeps octet n off the wire, for instance 0x000A0008.
    #[arg(long, value_parser = units::number32, value_name = "MAP", help_heading = "Line")]
    pub map: Option<u32>,
    /// Width of the frame check sequence, 16 or 32 bits; 16 unless a capture says otherwise.
    #[arg(long, value_name = "BITS", help_heading = "Line")]
    pub fcs: Option<FcsName>,
}

impl FrameArgs {
    /// What was asked for, and `known` where nothing was.
    #[must_use]
    pub fn wiring(&self, known: Wiring) -> Wiring {
        Wiring {
            framing: self.framing.unwrap_or(known.framing),
            fcs: self.fcs.unwrap_or(known.fcs),
            map: self.map.unwrap_or(known.map),
        }
    }
}

/// All settings of a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Args)]
pub struct LineArgs {
    /// Line rate, baud: any rate that the device can make, for instance 115200 or 1M.
    #[arg(long, value_parser = units::rate, default_value = "115200", value_name = "BAUD", help_heading = "Line")]
    pub rate: u32,
    /// Data bits, parity and stop bits.
    #[arg(long, default_value = "8N1", value_name = "FORMAT", help_heading = "Line")]
    pub format: LineFormat,
    /// How the octets become frames.
    #[command(flatten)]
    pub frame: FrameArgs,
}

impl LineArgs {
    /// Rate and format, for endpoints that do not name their own.
    #[must_use]
    pub const fn settings(&self) -> LineSettings {
        LineSettings { rate: self.rate, format: self.format }
    }
}
