//! Options of `roster`.

use std::time::Duration;

use clap::Args;

use super::{agreed::AgreedArgs, line::LineArgs, units};
use crate::endpoint::EndpointSpec;

/// Options of `roster`.
#[derive(Debug, Clone, Args)]
#[command(before_help = "Examples:
  bellwire roster /dev/ttyUSB1 --framing radio-board
  bellwire roster /dev/ttyUSB1 --framing radio-board --ask mast,porch,7
  bellwire roster night.pcapng --json\n")]
pub struct RosterArgs {
    /// Where to listen, or a capture; several are listed together.
    #[arg(required = true, value_name = "ENDPOINT")]
    pub endpoints: Vec<EndpointSpec>,
    /// Ask these leaves for a sign of life, each up to three times: addresses (1 to 250) or names in the agreement. Without
    /// it the command only listens. It ends when all of them were heard, each on one endpoint at least.
    #[arg(long, value_name = "LEAF", value_delimiter = ',')]
    pub ask: Vec<String>,
    /// How long to listen; 10 s, or as long as asking takes. Of a capture, its own time from the beginning.
    #[arg(long = "for", value_parser = units::duration, value_name = "TIME")]
    pub for_time: Option<Duration>,
    /// What was heard longer ago counts as not heard: a few times the longest pause between two reports.
    #[arg(long, value_parser = units::period, value_name = "TIME", default_value = "60s")]
    pub limit: Duration,
    /// One JSON record a leaf.
    #[arg(long)]
    pub json: bool,
    /// The agreement.
    #[command(flatten)]
    pub agreed: AgreedArgs,
    /// The line.
    #[command(flatten)]
    pub line: LineArgs,
}
