//! Options of `send-file` and `receive-file`.

use std::{path::PathBuf, time::Duration};

use clap::Args;

use super::{agreed::AgreedArgs, between::BetweenArgs, line::LineArgs, units};
use crate::endpoint::EndpointSpec;

/// Options of `send-file`.
#[derive(Debug, Clone, Args)]
#[command(before_help = "Examples:
  bellwire send-file sky.log /dev/ttyUSB0
  bellwire send-file dome.cfg udp:mast.local:7000@7001 --part 240
  bellwire send-file mast.cfg /dev/ttyUSB1 --framing radio-board --to mast --part 64

A run that was killed goes on where it was: give the same command again.
Ctrl-C ends the transfer for both sides.\n")]
pub struct SendFileArgs {
    /// What to send: 1 octet to 16 MiB.
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// Where to send it.
    #[arg(value_name = "ENDPOINT")]
    pub endpoint: EndpointSpec,
    /// Octets of a part, 8 to 1000; short ones where much is lost.
    #[arg(long, value_parser = clap::value_parser!(u16).range(8..=1000), default_value = "240", value_name = "OCTETS")]
    pub part: u16,
    /// What it is, a number by your own agreement with the receiver.
    #[arg(long, default_value = "0", value_name = "NUMBER")]
    pub topic: u16,
    /// Give up after so long without progress.
    #[arg(long, value_parser = units::period, value_name = "TIME", default_value = "60s")]
    pub wait: Duration,
    /// One JSON record a line.
    #[arg(long)]
    pub json: bool,
    /// Whom it is with.
    #[command(flatten)]
    pub between: BetweenArgs,
    /// The agreement.
    #[command(flatten)]
    pub agreed: AgreedArgs,
    /// The line.
    #[command(flatten)]
    pub line: LineArgs,
}

/// Options of `receive-file`.
#[derive(Debug, Clone, Args)]
#[command(before_help = "Examples:
  bellwire receive-file twin:/tmp/desk sky.log
  bellwire receive-file udp:mast.local:7001@7000 --largest 64KiB

Until it is whole and checked it stands in PATH.partial and PATH.map; a run
that was killed goes on from there. Ctrl-C ends the transfer for both sides.\n")]
pub struct ReceiveFileArgs {
    /// Where it comes from.
    #[arg(value_name = "ENDPOINT")]
    pub endpoint: EndpointSpec,
    /// Where to put it; must not be there yet.
    #[arg(value_name = "PATH", default_value = "received")]
    pub path: PathBuf,
    /// Refuse what is larger, for instance 64KiB.
    #[arg(long, value_parser = units::size, default_value = "16MiB", value_name = "SIZE")]
    pub largest: u64,
    /// Parts under way at once, 1 to 32.
    #[arg(long, value_parser = clap::value_parser!(u8).range(1..=32), default_value = "32", value_name = "COUNT")]
    pub window: u8,
    /// Give up after so long without a sender or a part.
    #[arg(long, value_parser = units::period, value_name = "TIME", default_value = "60s")]
    pub wait: Duration,
    /// One JSON record a line.
    #[arg(long)]
    pub json: bool,
    /// Whom it is with.
    #[command(flatten)]
    pub between: BetweenArgs,
    /// The agreement.
    #[command(flatten)]
    pub agreed: AgreedArgs,
    /// The line.
    #[command(flatten)]
    pub line: LineArgs,
}
