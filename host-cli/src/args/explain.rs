//! Options of `explain`.

use clap::Args;

use super::{agreed::AgreedArgs, line::FrameArgs};

/// Options of `explain`.
#[derive(Debug, Clone, Args)]
#[command(before_help = "Examples:
  bellwire explain 00 07 41 1c 09 28 b6 ac 00
  bellwire explain --framing octet-stuffing '7e 41 1c 09 28 b6 ac 7e'\n")]
pub struct ExplainArgs {
    /// Octets as they go over the wire, in hex, delimiters included.
    #[arg(value_name = "HEX", required = true)]
    pub octets: Vec<String>,
    /// One JSON record a line.
    #[arg(long)]
    pub json: bool,
    /// The agreement.
    #[command(flatten)]
    pub agreed: AgreedArgs,
    /// How the octets become frames.
    #[command(flatten)]
    pub frame: FrameArgs,
}
