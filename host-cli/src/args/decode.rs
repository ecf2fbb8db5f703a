//! Options of `decode`.

use clap::Args;

use super::line::FrameArgs;

/// Options of `decode`.
#[derive(Debug, Clone, Args)]
#[command(before_help = "Examples:
  bellwire decode night.pcapng
  bellwire decode night.pcapng --json | head
  echo '00 03 81 41 d5 68 00' | bellwire decode -\n")]
pub struct DecodeArgs {
    /// A capture, raw octets, hex text, or - for standard input.
    #[arg(value_name = "INPUT")]
    pub input: String,
    /// One JSON record a line.
    #[arg(long, conflicts_with = "csv")]
    pub json: bool,
    /// Comma-separated values.
    #[arg(long)]
    pub csv: bool,
    /// How the octets become frames.
    #[command(flatten)]
    pub frame: FrameArgs,
}
