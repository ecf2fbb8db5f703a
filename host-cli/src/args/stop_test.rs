//! Options of `stop-test`.

use std::time::Duration;

use clap::{Args, ValueEnum};

use super::{agreed::AgreedArgs, line::LineArgs, peer::SelfArgs, units};
use crate::endpoint::EndpointSpec;

/// How news of the rate ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, ValueEnum)]
pub enum Ceases {
    /// No more set-points; the link stays up.
    Silence,
    /// Not one more octet to the board, as when its wire is cut.
    Cut,
}

impl Ceases {
    /// The word on the command line.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Silence => "silence",
            Self::Cut => "cut",
        }
    }
}

/// Options of `stop-test`.
#[derive(Debug, Clone, Args)]
#[command(before_help = "Examples:
  bellwire stop-test demo: --arm --times 5
  bellwire stop-test /dev/ttyUSB0 --arm
  bellwire stop-test /dev/ttyUSB0 --arm --how cut --value 0.2 --json
  bellwire stop-test /dev/ttyUSB0 --arm --agreement machine.toml --message lift \
      --value speed=20\n")]
pub struct StopTestArgs {
    /// Where the board is.
    #[arg(value_name = "ENDPOINT")]
    pub endpoint: EndpointSpec,
    /// The leaf of a star to test, by address (1 to 250) or by its name in the agreement, alone on its wire with us; we are the hub.
    #[arg(long, value_name = "LEAF")]
    pub to: Option<String>,
    /// The set-point to send; a report of the board must show a field of the same name.
    #[arg(long, value_name = "MESSAGE", default_value = "dome-rate")]
    pub message: String,
    /// The value to send, in the field's unit, or FIELD=VALUE for each field; 0.5 for dome-rate.
    #[arg(long, value_name = "VALUE", allow_hyphen_values = true)]
    pub value: Vec<String>,
    /// The errand that re-arms; without it re-arm, if the agreement has it for this board, and else none.
    #[arg(long, value_name = "MESSAGE")]
    pub rearm: Option<String>,
    /// The report that shows what the board does; without it the first that has the field.
    #[arg(long, value_name = "MESSAGE")]
    pub report: Option<String>,
    /// A message of the board that says that it has stopped for want of news, whole: its name and values. Where nobody
    /// confirms (--how cut) a report may wait behind it. Without this, for dome-rate: 'dome-alarm reason=no-news'.
    #[arg(long, value_name = "MESSAGE")]
    pub alarm: Option<String>,
    /// How news ends: silence (no more set-points, the link stays up) or cut (not one more octet to the board).
    #[arg(long, value_enum, value_name = "HOW", default_value = "silence", hide_possible_values = true)]
    pub how: Ceases,
    /// How many times.
    #[arg(long, value_name = "COUNT", default_value = "10", value_parser = clap::value_parser!(u32).range(1..=1000))]
    pub times: u32,
    /// Time between set-points.
    #[arg(long, value_parser = units::period, value_name = "TIME", default_value = "50ms")]
    pub period: Duration,
    /// The freshness limit that the board should keep; without it the one that is agreed.
    #[arg(long, value_parser = units::period, value_name = "TIME")]
    pub limit: Option<Duration>,
    /// What may come on top of it: the board's control loop, both ways on the wire, this computer.
    #[arg(long, value_parser = units::duration, value_name = "TIME", default_value = "50ms")]
    pub margin: Duration,
    /// How long to wait for the session, and for each answer.
    #[arg(long, value_parser = units::period, value_name = "TIME", default_value = "5s")]
    pub wait: Duration,
    /// Allow it to move. Read the caution that is shown without this first.
    #[arg(long)]
    pub arm: bool,
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
