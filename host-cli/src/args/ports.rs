//! Options of `ports`.

use clap::Args;

/// Options of `ports`.
#[derive(Debug, Clone, Args)]
#[command(before_help = "Example:\n  bellwire ports\n")]
pub struct PortsArgs {
    /// One JSON record a line.
    #[arg(long)]
    pub json: bool,
}
