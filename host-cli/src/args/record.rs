//! Options of a recording, the same for `log` and `tap`.

use std::path::PathBuf;

use clap::Args;

use super::units;

/// Where and how to record.
#[derive(Debug, Clone, Args)]
pub struct RecordArgs {
    /// Record the raw octets in this capture.
    #[arg(short, long, value_name = "FILE", help_heading = "Recording")]
    pub output: Option<PathBuf>,
    /// Write over the capture if it is there already.
    #[arg(long, requires = "output", conflicts_with = "rotate", help_heading = "Recording")]
    pub replace: bool,
    /// Number the captures (night-001.pcapng) and begin a new one at this size, at least 100kB.
    #[arg(long, value_parser = units::capture_size, value_name = "SIZE", requires = "output", help_heading = "Recording")]
    pub rotate: Option<u64>,
}
