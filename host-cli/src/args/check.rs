//! Options of `check`.

use std::time::Duration;

use clap::Args;

use super::{line::LineArgs, units};
use crate::endpoint::EndpointSpec;

/// Options of `check`.
#[derive(Debug, Clone, Args)]
#[command(before_help = "Examples:
  bellwire check /dev/ttyUSB0
  bellwire check /dev/ttyUSB0 --rate 57600 --for 10s\n")]
pub struct CheckArgs {
    /// The line to check.
    #[arg(value_name = "ENDPOINT")]
    pub endpoint: EndpointSpec,
    /// How long to probe and listen.
    #[arg(long = "for", value_parser = units::period, value_name = "TIME", default_value = "5s")]
    pub for_time: Duration,
    /// One JSON record a line.
    #[arg(long)]
    pub json: bool,
    /// The line.
    #[command(flatten)]
    pub line: LineArgs,
}
