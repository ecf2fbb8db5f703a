//! The command `tap`.

use crate::{args::tap::TapArgs, exit::Exit, fail::Fail, shell::Shell};

/// Runs `tap`.
///
/// # Errors
/// Always: not built yet.
pub fn run(_args: &TapArgs, _shell: &mut Shell<'_>) -> Result<Exit, Fail> {
    Err(Fail::new(Exit::Usage, "the command `tap` is not built yet"))
}
