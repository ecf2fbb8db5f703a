//! Options of `inject`.

use std::time::Duration;

use clap::{Args, ValueEnum};

use super::{agreed::AgreedArgs, line::LineArgs, peer::SelfArgs, units};
use crate::endpoint::EndpointSpec;

/// What to do wrong on purpose.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, ValueEnum)]
pub enum Wrong {
    /// A false frame check sequence.
    Fcs,
    /// The last octets of the frame are missing.
    Cut,
    /// The frame twice.
    Doubled,
}

/// Options of `inject`.
#[derive(Debug, Clone, Args)]
#[command(before_help = "Examples:
  bellwire inject /dev/ttyUSB0 lamp level=40
  bellwire inject /dev/ttyUSB0 dome-goto azimuth=123.40 --arm
  bellwire inject /dev/ttyUSB0 errand 9 --payload 28
  bellwire inject /dev/ttyUSB1 lamp level=40 --framing radio-board --to porch
  bellwire inject /dev/ttyUSB0 log-line text=hello --every 100ms --for 5s
  bellwire inject /dev/ttyUSB0 --raw '00 04 e0 01 07 03 80 5f 00'
  bellwire inject /dev/ttyUSB0 errand 9 --payload 28 --lone --wrong fcs\n")]
pub struct InjectArgs {
    /// Where to send.
    #[arg(value_name = "ENDPOINT")]
    pub endpoint: EndpointSpec,
    /// A message of the agreement with its values (lamp level=40), or a class and a message number (errand 9).
    #[arg(value_name = "MESSAGE", required_unless_present = "raw")]
    pub message: Vec<String>,
    /// The leaf of a star to talk with, by address (1 to 250) or by its name in the agreement; we are the hub.
    #[arg(long, value_name = "LEAF", conflicts_with = "raw")]
    pub to: Option<String>,
    /// What follows the message number, in hex.
    #[arg(long, value_name = "HEX")]
    pub payload: Option<units::Octets>,
    /// These octets and nothing else, in hex.
    #[arg(long, value_name = "HEX", conflicts_with_all = ["message", "payload", "lone", "wrong"])]
    pub raw: Option<units::Octets>,
    /// A single frame, without opening a session first: no outcome can be told.
    #[arg(long)]
    pub lone: bool,
    /// Wrong on purpose, as a lone frame: fcs (false), cut (its end is missing) or doubled.
    #[arg(long, value_enum, value_name = "HOW", hide_possible_values = true)]
    pub wrong: Option<Wrong>,
    /// Send again and again with this period.
    #[arg(long, value_parser = units::period, value_name = "TIME")]
    pub every: Option<Duration>,
    /// Stop after this time.
    #[arg(long = "for", value_parser = units::duration, value_name = "TIME", requires = "every")]
    pub for_time: Option<Duration>,
    /// How long to wait for the session and for the outcome.
    #[arg(long, value_parser = units::period, value_name = "TIME", default_value = "5s")]
    pub wait: Duration,
    /// Allow what may move something. Read the caution in README first.
    #[arg(long)]
    pub arm: bool,
    /// Allow it over a radio or a network too, where anyone in range can forge and replay frames.
    #[arg(long)]
    pub open_way: bool,
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
