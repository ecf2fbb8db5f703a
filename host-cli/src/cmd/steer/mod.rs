//! The command `steer`.

pub mod helm;

use crate::{args::steer::SteerArgs, exit::Exit, fail::Fail, shell::Shell};

/// Runs `steer`.
///
/// # Errors
/// Always: not built yet.
pub fn run(_args: &SteerArgs, _shell: &mut Shell<'_>) -> Result<Exit, Fail> {
    Err(Fail::new(Exit::Usage, "the command `steer` is not built yet"))
}
