//! The command `check`.

use crate::{args::check::CheckArgs, exit::Exit, fail::Fail, shell::Shell};

/// Runs `check`.
///
/// # Errors
/// Always: not built yet.
pub fn run(_args: &CheckArgs, _shell: &mut Shell<'_>) -> Result<Exit, Fail> {
    Err(Fail::new(Exit::Usage, "the command `check` is not built yet"))
}
