//! Options of `tap`.

use std::time::Duration;

use clap::Args;

use super::{agreed::AgreedArgs, line::LineArgs, record::RecordArgs, units};
use crate::endpoint::EndpointSpec;

/// Options of `tap`.
#[derive(Debug, Clone, Args)]
#[command(before_help = "Example:
  bellwire tap /dev/ttyUSB0 twin:/tmp/dome      then let your program open /tmp/dome\n")]
pub struct TapArgs {
    /// The device.
    #[arg(value_name = "ENDPOINT")]
    pub device: EndpointSpec,
    /// Where your own program connects, usually twin:PATH.
    #[arg(value_name = "ENDPOINT")]
    pub program: EndpointSpec,
    /// Stop after this time.
    #[arg(long = "for", value_parser = units::duration, value_name = "TIME")]
    pub for_time: Option<Duration>,
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
