//! The command `peer`.

use crate::{args::peer::PeerArgs, exit::Exit, fail::Fail, shell::Shell};

/// Runs `peer`.
///
/// # Errors
/// Always: not built yet.
pub fn run(_args: &PeerArgs, _shell: &mut Shell<'_>) -> Result<Exit, Fail> {
    Err(Fail::new(Exit::Usage, "the command `peer` is not built yet"))
}
