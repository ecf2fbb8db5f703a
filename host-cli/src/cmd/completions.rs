//! The command `completions`: a completion script made from the table of options.

use crate::{args, exit::Exit, fail::Fail, shell::Shell};

/// Writes the script for one shell.
///
/// # Errors
/// [`Fail::output`] if it cannot be written.
pub fn run(kind: clap_complete::Shell, shell: &mut Shell<'_>) -> Result<Exit, Fail> {
    let mut script = Vec::new();
    clap_complete::generate(kind, &mut args::table(), "bellwire", &mut script);
    shell.out.write_all(&script).map_err(|e| Fail::output(&e))?;
    Ok(Exit::Good)
}
