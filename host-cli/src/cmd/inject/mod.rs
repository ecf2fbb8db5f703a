//! The command `inject`.

pub mod message;

use crate::{args::inject::InjectArgs, exit::Exit, fail::Fail, shell::Shell};

/// Runs `inject`.
///
/// # Errors
/// Always: not built yet.
pub fn run(_args: &InjectArgs, _shell: &mut Shell<'_>) -> Result<Exit, Fail> {
    Err(Fail::new(Exit::Usage, "the command `inject` is not built yet"))
}
