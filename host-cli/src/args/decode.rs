//! Options of `decode`.

use clap::Args;
use std::{ops::RangeInclusive, time::Duration};

use super::{agreed::AgreedArgs, line::FrameArgs, units};
use crate::decode::Form;

/// Options of `decode`.
#[derive(Debug, Clone, Args)]
#[command(before_help = "Examples:
  bellwire decode night.pcapng
  bellwire decode night.pcapng --json | head
  bellwire decode desk.pcapng field.pcapng
  bellwire decode night.pcapng --message dome-rate --from 10s --to 20s
  bellwire decode night.pcapng --sheet dome-state > dome.csv
  echo '00 03 81 09 05 c8 01 e6 a2 00' | bellwire decode -\n")]
pub struct DecodeArgs {
    /// A capture, raw octets, hex text, or - for standard input; several captures are merged in order of time.
    #[arg(value_name = "INPUT", required = true)]
    pub inputs: Vec<String>,
    /// What the input is, where its beginning misleads.
    #[arg(long = "as", value_name = "FORM")]
    pub form: Option<Form>,
    /// One JSON record a line.
    #[arg(long, conflicts_with = "csv")]
    pub json: bool,
    /// Comma-separated values.
    #[arg(long)]
    pub csv: bool,
    /// One message as comma-separated values, a column for each field; its name or number.
    #[arg(long, value_name = "MESSAGE", conflicts_with_all = ["json", "csv", "hex", "sum"])]
    pub sheet: Option<String>,
    /// Show the octets too.
    #[arg(long)]
    pub hex: bool,
    /// Show the sum alone.
    #[arg(long)]
    pub sum: bool,
    /// Worker threads; without it as many as there are processors, at most 8.
    #[arg(long, value_name = "COUNT", value_parser = clap::value_parser!(u16).range(1..=64))]
    pub threads: Option<u16>,
    /// Which records are shown.
    #[command(flatten)]
    pub only: OnlyArgs,
    /// The agreement.
    #[command(flatten)]
    pub agreed: AgreedArgs,
    /// How the octets become frames.
    #[command(flatten)]
    pub frame: FrameArgs,
}

/// Filters; all that are given must hold. They choose what is shown: the sum is over everything.
#[derive(Debug, Clone, Default, Args)]
#[command(next_help_heading = "Filters")]
pub struct OnlyArgs {
    /// Only these records: frame, reject, text, event, gap, note.
    #[arg(long, value_name = "RECORD", value_delimiter = ',', value_parser = ["frame", "reject", "text", "event", "gap", "note"])]
    pub record: Vec<String>,
    /// Only frames of these kinds: open, errand, report, set-point, ack, notice, extended.
    #[arg(long, value_name = "KIND", value_delimiter = ',', value_parser = units::kind)]
    pub kind: Vec<bellwire::frame::Kind>,
    /// Only messages of these classes: set-point, errand, report, notice.
    #[arg(long, value_name = "CLASS", value_delimiter = ',', value_parser = units::class)]
    pub class: Vec<bellwire::frame::Class>,
    /// Only frames to or from these boards of a shared medium: addresses, or names in the agreement.
    #[arg(long, value_name = "BOARD", value_delimiter = ',')]
    pub address: Vec<String>,
    /// Only frames with these sequence numbers, for instance 7 or 10..20.
    #[arg(long, value_name = "NUMBER", value_delimiter = ',', value_parser = units::numbers)]
    pub number: Vec<RangeInclusive<u8>>,
    /// Only messages with this name or message number.
    #[arg(long, value_name = "MESSAGE", value_delimiter = ',')]
    pub message: Vec<String>,
    /// Only this port of a capture, by its index.
    #[arg(long, value_name = "PORT", value_delimiter = ',')]
    pub port: Vec<u16>,
    /// Only from this time on, counted from the first record.
    #[arg(long, value_name = "TIME", value_parser = units::duration)]
    pub from: Option<Duration>,
    /// Only up to this time, counted from the first record.
    #[arg(long, value_name = "TIME", value_parser = units::duration)]
    pub to: Option<Duration>,
}
