//! The command `log`.

use crate::{args::log::LogArgs, exit::Exit, fail::Fail, shell::Shell};

/// Runs `log`.
///
/// # Errors
/// Always: not built yet.
pub fn run(_args: &LogArgs, _shell: &mut Shell<'_>) -> Result<Exit, Fail> {
    Err(Fail::new(Exit::Usage, "the command `log` is not built yet"))
}
