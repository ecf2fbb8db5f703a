//! The command `decode`.

use crate::{args::decode::DecodeArgs, exit::Exit, fail::Fail, shell::Shell};

/// Runs `decode`.
///
/// # Errors
/// Always: not built yet.
pub fn run(_args: &DecodeArgs, _shell: &mut Shell<'_>) -> Result<Exit, Fail> {
    Err(Fail::new(Exit::Usage, "the command `decode` is not built yet"))
}
