//! Options of `log`.

use std::time::Duration;

use clap::Args;

use super::{agreed::AgreedArgs, line::LineArgs, record::RecordArgs, units};
use crate::endpoint::EndpointSpec;

/// Options of `log`.
#[derive(Debug, Clone, Args)]
#[command(before_help = "Examples:
  bellwire log demo:
  bellwire log /dev/ttyUSB0 --rate 57600
  bellwire log demo: -o night.pcapng --for 20s
  bellwire log /dev/ttyUSB1 --framing radio-board --hub\n")]
pub struct LogArgs {
    /// Where to listen; several are shown in one order of time.
    #[arg(required = true, value_name = "ENDPOINT")]
    pub endpoints: Vec<EndpointSpec>,
    /// Stop after this time; of a recording and of demo:fast, of their own time.
    #[arg(long = "for", value_parser = units::duration, value_name = "TIME")]
    pub for_time: Option<Duration>,
    /// Answer openings as a peer instead of only listening.
    #[arg(long)]
    pub peer: bool,
    /// Be the hub of a star: seat the leaves that ask, open with each, confirm every message and act on none, pass on what goes from leaf to leaf.
    #[arg(long, conflicts_with = "peer")]
    pub hub: bool,
    /// One JSON record a line.
    #[arg(long)]
    pub json: bool,
    /// Show the octets too.
    #[arg(long)]
    pub hex: bool,
    /// The recording.
    #[command(flatten)]
    pub record: RecordArgs,
    /// The agreement.
    #[command(flatten)]
    pub agreed: AgreedArgs,
    /// The line.
    #[command(flatten)]
    pub line: LineArgs,
}
