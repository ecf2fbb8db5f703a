//! The command `replay`.

use crate::{args::replay::ReplayArgs, exit::Exit, fail::Fail, shell::Shell};

/// Runs `replay`.
///
/// # Errors
/// Always: not built yet.
pub fn run(_args: &ReplayArgs, _shell: &mut Shell<'_>) -> Result<Exit, Fail> {
    Err(Fail::new(Exit::Usage, "the command `replay` is not built yet"))
}
