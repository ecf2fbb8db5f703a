//! Options of `generate`.

use std::path::PathBuf;

use clap::Args;

use crate::generate::Kind;

/// Options of `generate`.
#[derive(Debug, Clone, Args)]
#[command(before_help = "Examples:
  bellwire generate examples/observatory/agreement.toml --to src
  bellwire generate machine.toml --only c,python --to firmware
  bellwire generate machine.toml --only page,labels --to .    to print: one page, a label a board
  bellwire generate machine.toml --only python --to board --messages focuser-goto,focuser-state
  bellwire generate machine.toml --to src --check    are the files there still the same?\n")]
pub struct GenerateArgs {
    /// The agreement file.
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// Folder for the files; they have the name of the machine.
    #[arg(long, value_name = "FOLDER")]
    pub to: PathBuf,
    /// Only these, joined by commas; without it all.
    #[arg(long, value_name = "KIND", value_delimiter = ',')]
    pub only: Vec<Kind>,
    /// In Rust every type derives `defmt::Format` too, behind the feature `defmt` of your crate, which you declare.
    #[arg(long)]
    pub defmt: bool,
    /// Only the messages that this board sends or takes.
    #[arg(long, value_name = "NAME")]
    pub board: Option<String>,
    /// Only these messages, joined by commas, for a board with little memory.
    #[arg(long, value_name = "NAMES", value_delimiter = ',', conflicts_with = "board")]
    pub messages: Vec<String>,
    /// Write nothing; say which files differ from what would be written.
    #[arg(long)]
    pub check: bool,
}
