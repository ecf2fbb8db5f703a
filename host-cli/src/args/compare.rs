//! Options of `compare`.

use std::path::PathBuf;

use clap::Args;

/// Options of `compare`.
#[derive(Debug, Clone, Args)]
#[command(before_help = "Example:
  bellwire compare agreement-1.toml agreement-2.toml\n")]
pub struct CompareArgs {
    /// The agreement that old boards hold.
    #[arg(value_name = "OLD")]
    pub old: PathBuf,
    /// The agreement that new boards hold.
    #[arg(value_name = "NEW")]
    pub new: PathBuf,
    /// One JSON record a line.
    #[arg(long)]
    pub json: bool,
}
