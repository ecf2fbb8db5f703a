//! The table of commands and options, and the help pages.
//!
//! One file a command; `line` and `units` are shared. A command's options are plain data that its module under `cmd` reads.

pub mod agreed;
pub mod agreement;
pub mod between;
pub mod check;
pub mod compare;
pub mod decode;
pub mod explain;
pub mod generate;
pub mod inject;
pub mod line;
pub mod log;
pub mod page;
pub mod peer;
pub mod ports;
pub mod record;
pub mod replay;
pub mod roster;
pub mod steer;
pub mod stop_test;
pub mod tap;
pub mod transfer;
pub mod units;

use std::{ffi::OsString, path::PathBuf};

use clap::{CommandFactory, FromArgMatches, Parser, Subcommand};

pub use page::Page;

use crate::caution;

/// Order of a help page: what it is, examples, then the options.
const TEMPLATE: &str = "{about-with-newline}\n{before-help}{usage-heading} {usage}\n\n{all-args}{after-help}";

const ENDPOINTS: &str = "Endpoints, the same for every command:
  /dev/ttyUSB0        a serial device, with --rate and --format, or with @57600
  twin:PATH           a pseudo-terminal that this command makes at PATH
  tcp:HOST:PORT       connects; await:PORT waits for a connection
  udp:HOST:PORT       datagrams
  -                   standard input, only to read
  night.pcapng        a capture, only to read
  demo:               the boards of a backyard observatory, in this process
                      (settings: demo:seed=8,noise=motor,fast,endless)";

/// Commands that may move something: their pages end with the caution.
const MOVING: [&str; 4] = ["inject", "steer", "stop-test", "replay"];

/// The whole command line.
#[derive(Debug, Clone, Parser)]
#[command(
    name = "bellwire",
    version,
    about = "Record, decode, steer, inject and replay the traffic between the boards of one machine.",
    before_help = "Examples:
  bellwire log demo:                        watch simulated boards talk
  bellwire log /dev/ttyUSB0 -o night.pcapng watch a line and record it
  bellwire decode night.pcapng              the same frames again, and a sum
  bellwire check /dev/ttyUSB0               is the wiring good, both ways?\n",
    disable_help_subcommand = true,
    arg_required_else_help = true
)]
pub struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// One command of the tool.
#[derive(Debug, Clone, Subcommand)]
pub enum Command {
    /// Log what passes on one or more lines, frame by frame.
    Log(log::LogArgs),
    /// Decode a capture, raw octets or hex.
    Decode(decode::DecodeArgs),
    /// List the serial devices and who they are.
    Ports(ports::PortsArgs),
    /// Sit between a device and your own program and log both directions.
    Tap(tap::TapArgs),
    /// Be a running peer, so that a board has somebody to talk to.
    Peer(peer::PeerArgs),
    /// Send one message and wait for its outcome, or put raw octets on the line.
    Inject(inject::InjectArgs),
    /// Send set-points from the keyboard.
    Steer(steer::SteerArgs),
    /// Measure how long a board turns on after the last set-point.
    StopTest(stop_test::StopTestArgs),
    /// Send a capture again.
    Replay(replay::ReplayArgs),
    /// List the leaves of a star: who is heard, how well, and which way.
    Roster(roster::RosterArgs),
    /// Send a file in parts, and go on after an interruption.
    SendFile(transfer::SendFileArgs),
    /// Take a file that comes in parts, and go on after an interruption.
    ReceiveFile(transfer::ReceiveFileArgs),
    /// Find out whether a line works, and which way.
    Check(check::CheckArgs),
    /// Check an agreement file and show its messages, their octets and its fingerprint.
    Agreement(agreement::AgreementArgs),
    /// Compare two versions of an agreement: what old and new boards do with each other.
    Compare(compare::CompareArgs),
    /// Explain octets one by one, and find the first thing wrong with them.
    Explain(explain::ExplainArgs),
    /// Write code from an agreement (Rust, C, Python), a page and labels to print.
    Generate(generate::GenerateArgs),
    /// Write a completion script for a shell.
    #[command(before_help = "Example:\n  bellwire completions bash > bellwire.bash\n")]
    Completions {
        /// The shell.
        shell: clap_complete::Shell,
    },
    /// Write the manual pages.
    #[command(
        before_help = "Examples:\n  bellwire man --to ~/.local/share/man/man1\n  bellwire man | man -l -\n"
    )]
    Man {
        /// Folder for one page a command; without it the main page goes to standard output.
        #[arg(long, value_name = "FOLDER")]
        to: Option<PathBuf>,
    },
}

/// The table as clap sees it, with the layout of the help pages.
#[must_use]
pub fn table() -> clap::Command {
    let codes: String = crate::exit::Exit::ALL
        .iter()
        .map(|exit| format!("\n  {:<3} {}", exit.code(), exit.meaning()))
        .collect();
    Cli::command()
        .help_template(TEMPLATE)
        .term_width(80)
        .after_help(format!("{ENDPOINTS}\n\nExit codes:{codes}"))
        .mut_subcommands(|command| {
            let command = command.help_template(TEMPLATE).term_width(80);
            if MOVING.contains(&command.get_name()) { command.after_help(caution::page()) } else { command }
        })
}

/// Reads a command line.
///
/// # Errors
/// A page to show instead: help, the version, or what is wrong with the line.
pub fn parse(words: impl IntoIterator<Item = OsString>) -> Result<Command, Page> {
    let matches = table().try_get_matches_from(words)?;
    Ok(Cli::from_arg_matches(&matches)?.command)
}
