//! Options of `agreement`.

use std::path::PathBuf;

use clap::Args;

/// Options of `agreement`.
#[derive(Debug, Clone, Args)]
#[command(before_help = "Examples:
  bellwire agreement examples/observatory/agreement.toml
  bellwire agreement examples/observatory/agreement.toml --json\n")]
pub struct AgreementArgs {
    /// The agreement file.
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// Show what the fingerprint is made of, line by line.
    #[arg(long, conflicts_with = "json")]
    pub outline: bool,
    /// One JSON record a line.
    #[arg(long)]
    pub json: bool,
}
