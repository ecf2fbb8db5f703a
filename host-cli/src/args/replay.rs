//! Options of `replay`.

use std::{path::PathBuf, str::FromStr};

use clap::{Args, ValueEnum};

use super::{agreed::AgreedArgs, line::LineArgs, units};
use crate::endpoint::EndpointSpec;

/// How fast to replay.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Speed {
    /// So many times as fast as recorded.
    Times(f64),
    /// As fast as the endpoint takes it.
    Max,
}

impl FromStr for Speed {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        if text == "max" {
            return Ok(Self::Max);
        }
        units::factor(text).map(Self::Times).map_err(|what| format!("{what}, or max"))
    }
}

/// Which direction of a capture to replay.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, ValueEnum)]
pub enum Way {
    /// What went out to the board.
    Out,
    /// What came in from the board.
    In,
    /// Both, in order of time.
    Both,
}

/// Options of `replay`.
#[derive(Debug, Clone, Args)]
#[command(before_help = "Examples:
  bellwire replay night.pcapng twin:/tmp/again
  bellwire replay night.pcapng twin:/tmp/again --speed 2 --direction both\n")]
pub struct ReplayArgs {
    /// The capture.
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// Where to send.
    #[arg(value_name = "ENDPOINT")]
    pub endpoint: EndpointSpec,
    /// How fast: a factor, or max.
    #[arg(long, value_name = "SPEED", default_value = "1")]
    pub speed: Speed,
    /// Which direction of the capture: in (from the board), out (to the board) or both.
    #[arg(long, value_enum, value_name = "WAY", default_value = "in", hide_possible_values = true)]
    pub direction: Way,
    /// Which port of the capture, counted from 0.
    #[arg(long, value_name = "NUMBER", default_value_t = 0)]
    pub port: u16,
    /// Replay set-points and errands too. They may move something: read the caution in README first.
    #[arg(long)]
    pub arm: bool,
    /// Allow that over a radio or a network too, where anyone in range can forge and replay frames.
    #[arg(long)]
    pub open_way: bool,
    /// One JSON record a line.
    #[arg(long)]
    pub json: bool,
    /// The agreement.
    #[command(flatten)]
    pub agreed: AgreedArgs,
    /// The line.
    #[command(flatten)]
    pub line: LineArgs,
}
