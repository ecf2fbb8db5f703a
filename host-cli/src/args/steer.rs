//! Options of `steer`.

use std::time::Duration;

use clap::Args;

use super::{agreed::AgreedArgs, line::LineArgs, peer::SelfArgs, units};
use crate::endpoint::EndpointSpec;

/// Options of `steer`.
#[derive(Debug, Clone, Args)]
#[command(before_help = "Examples:
  bellwire steer demo:
  bellwire steer /dev/ttyUSB0
  bellwire steer twin:/tmp/dome --period 20ms --step 0.5 --limit 3\n")]
pub struct SteerArgs {
    /// Where the board is.
    #[arg(value_name = "ENDPOINT")]
    pub endpoint: EndpointSpec,
    /// The leaf of a star to talk with, by address (1 to 250) or by its name in the agreement; we are the hub.
    #[arg(long, value_name = "LEAF")]
    pub to: Option<String>,
    /// The set-point to send: one with a single number.
    #[arg(long, value_name = "MESSAGE", default_value = "dome-rate")]
    pub message: String,
    /// The errand that re-arms.
    #[arg(long, value_name = "MESSAGE", default_value = "re-arm")]
    pub rearm: String,
    /// Time between set-points.
    #[arg(long, value_parser = units::period, value_name = "TIME", default_value = "50ms")]
    pub period: Duration,
    /// How much one press of an arrow changes the rate, in the field's unit.
    #[arg(long, value_name = "RATE", default_value = "0.5")]
    pub step: f64,
    /// The largest rate, in the field's unit.
    #[arg(long, value_name = "RATE", default_value = "3")]
    pub limit: f64,
    /// How fast the rate may change, in the field's unit each second.
    #[arg(long, value_name = "RAMP", default_value = "2")]
    pub ramp: f64,
    /// Re-arm as soon as the link is up, instead of waiting for the key `a`.
    #[arg(long)]
    pub arm: bool,
    /// Allow it over a radio or a network too, where anyone in range can forge and replay frames.
    #[arg(long)]
    pub open_way: bool,
    /// Stop after this time.
    #[arg(long = "for", value_parser = units::duration, value_name = "TIME")]
    pub for_time: Option<Duration>,
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
