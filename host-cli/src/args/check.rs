//! Options of `check`.

use std::time::Duration;

use clap::Args;

use super::{agreed::AgreedArgs, line::LineArgs, units};
use crate::endpoint::EndpointSpec;

/// Options of `check`.
#[derive(Debug, Clone, Args)]
#[command(before_help = "Examples:
  bellwire check /dev/ttyUSB0
  bellwire check /dev/ttyUSB0 --rate 57600 --for 10s
  bellwire check /dev/ttyUSB1 --framing radio-board --to porch\n")]
pub struct CheckArgs {
    /// The line to check.
    #[arg(value_name = "ENDPOINT")]
    pub endpoint: EndpointSpec,
    /// How long to probe and listen.
    #[arg(long = "for", value_parser = units::period, value_name = "TIME", default_value = "5s")]
    pub for_time: Duration,
    /// The leaf of a star to probe, by address (1 to 250) or by its name in the agreement; we are the hub.
    #[arg(long, value_name = "LEAF")]
    pub to: Option<String>,
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
