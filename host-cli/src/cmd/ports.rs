//! The command `ports`.

use crate::{args::ports::PortsArgs, exit::Exit, fail::Fail, shell::Shell};

/// Runs `ports`.
///
/// # Errors
/// Always: not built yet.
pub fn run(_args: &PortsArgs, _shell: &mut Shell<'_>) -> Result<Exit, Fail> {
    Err(Fail::new(Exit::Usage, "the command `ports` is not built yet"))
}
