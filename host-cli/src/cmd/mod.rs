//! One module a command: each takes its options and the shell, and gives the exit code or what stopped it.

pub mod agreement;
pub mod check;
pub mod compare;
pub mod completions;
pub mod decode;
pub mod explain;
pub mod generate;
pub mod inject;
pub mod log;
pub mod man;
mod named;
pub mod peer;
pub mod ports;
pub mod receive_file;
pub mod replay;
pub mod roster;
pub mod send_file;
mod showing;
pub mod steer;
pub mod stop_test;
pub mod tap;

use crate::{args::Command, exit::Exit, fail::Fail, shell::Shell};

/// Runs one command.
///
/// # Errors
/// What stopped it.
pub fn run(command: &Command, shell: &mut Shell<'_>) -> Result<Exit, Fail> {
    match command {
        Command::Log(args) => log::run(args, shell),
        Command::Decode(args) => decode::run(args, shell),
        Command::Ports(args) => ports::run(args, shell),
        Command::Tap(args) => tap::run(args, shell),
        Command::Peer(args) => peer::run(args, shell),
        Command::Inject(args) => inject::run(args, shell),
        Command::Steer(args) => steer::run(args, shell),
        Command::StopTest(args) => stop_test::run(args, shell),
        Command::Replay(args) => replay::run(args, shell),
        Command::Roster(args) => roster::run(args, shell),
        Command::SendFile(args) => send_file::run(args, shell),
        Command::ReceiveFile(args) => receive_file::run(args, shell),
        Command::Check(args) => check::run(args, shell),
        Command::Agreement(args) => agreement::run(args, shell),
        Command::Compare(args) => compare::run(args, shell),
        Command::Explain(args) => explain::run(args, shell),
        Command::Generate(args) => generate::run(args, shell),
        Command::Completions { shell: kind } => completions::run(*kind, shell),
        Command::Man { to } => man::run(to.as_deref(), shell),
    }
}
