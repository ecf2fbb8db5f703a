//! Options of `peer`, and those of being a peer that `inject` and `steer` share.

use std::{path::PathBuf, time::Duration};

use clap::Args;

use super::{agreed::AgreedArgs, line::LineArgs, units};
use crate::{endpoint::EndpointSpec, machine::Between};

/// Who we are when we take part ourselves.
#[derive(Debug, Clone, Args)]
pub struct SelfArgs {
    /// Our identity, 64 bits; at random without it.
    #[arg(long, value_parser = units::number64, value_name = "NUMBER", help_heading = "Ourselves")]
    pub identity: Option<u64>,
    /// Fingerprint to state; without it that of --agreement, or 0, which fits any.
    #[arg(long, value_parser = units::number32, value_name = "NUMBER", help_heading = "Ourselves")]
    pub fingerprint: Option<u32>,
    /// Keep our own number in this file over restarts, instead of drawing it at random.
    #[arg(long, value_name = "FILE", help_heading = "Ourselves")]
    pub own_number_file: Option<PathBuf>,
    /// How long a copy of a frame may live on a datagram link.
    #[arg(long, value_parser = units::duration, default_value = "500ms", value_name = "TIME", help_heading = "Ourselves")]
    pub lifetime: Duration,
    /// Both ends on a medium that others share; the command sets it.
    #[arg(skip)]
    pub between: Option<Between>,
}

impl Default for SelfArgs {
    fn default() -> Self {
        let lifetime = Duration::from_millis(500);
        Self { identity: None, fingerprint: None, own_number_file: None, lifetime, between: None }
    }
}

/// Options of `peer`.
#[derive(Debug, Clone, Args)]
#[command(before_help = "Examples:
  bellwire peer /dev/ttyUSB0
  bellwire peer twin:/tmp/desk --for 1min --json
  bellwire peer udp:desk:7000@7001 --address porch\n")]
pub struct PeerArgs {
    /// Where the board is.
    #[arg(value_name = "ENDPOINT")]
    pub endpoint: EndpointSpec,
    /// Be this leaf of a star, by address (1 to 250) or by its name in the agreement, and talk with its hub.
    #[arg(long, value_name = "LEAF")]
    pub address: Option<String>,
    /// Stop after this time.
    #[arg(long = "for", value_parser = units::duration, value_name = "TIME")]
    pub for_time: Option<Duration>,
    /// One JSON record a line.
    #[arg(long)]
    pub json: bool,
    /// Who we are.
    #[command(flatten)]
    pub ourselves: SelfArgs,
    /// The agreement.
    #[command(flatten)]
    pub agreed: AgreedArgs,
    /// The line.
    #[command(flatten)]
    pub line: LineArgs,
}
