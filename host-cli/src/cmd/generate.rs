//! The command `generate`: writes code and pages from an agreement.

use std::{fs, io::ErrorKind, path::PathBuf};

use crate::{
    agreement::Agreement,
    args::generate::GenerateArgs,
    exit::Exit,
    fail::Fail,
    generate::{Extras, Kind, save},
    shell::Shell,
};

/// Runs `generate`.
///
/// # Errors
/// If the file cannot be read, has faults or no messages, or if a file cannot be written.
pub fn run(args: &GenerateArgs, shell: &mut Shell<'_>) -> Result<Exit, Fail> {
    let agreement = Agreement::load(&args.file)?;
    if agreement.table.messages().is_empty() {
        return Err(Fail::new(Exit::BadInput, "the agreement has no messages")
            .at(args.file.display().to_string())
            .next("add a [[message]]; host-cli/AGREEMENT.md shows how"));
    }
    let agreement = match &args.board {
        Some(board) => agreement.of_board(board)?,
        None if args.messages.is_empty() => agreement,
        None => agreement.of_messages(&args.messages)?,
    };
    let wanted = Kind::ALL.into_iter().filter(|kind| args.only.is_empty() || args.only.contains(kind));
    let files: Vec<_> = wanted
        .flat_map(|kind| kind.files(&agreement, Extras { defmt: args.defmt }))
        .map(|(name, text)| (args.to.join(name), text))
        .collect();
    if args.check {
        return check(&files, shell);
    }
    save::save(&files).map_err(|(path, error)| {
        Fail::io("cannot write", &error)
            .at(path.display().to_string())
            .next("give a folder that is there and may be written with --to")
    })?;
    for (path, _) in &files {
        shell.line(format_args!("wrote {}", path.display()))?;
    }
    Ok(Exit::Good)
}

/// Says of each file whether it is what would be written.
fn check(files: &[(PathBuf, String)], shell: &mut Shell<'_>) -> Result<Exit, Fail> {
    let mut exit = Exit::Good;
    for (path, text) in files {
        let verdict = match fs::read(path) {
            Ok(there) if there == text.as_bytes() => "same   ",
            Ok(_) => "differs",
            Err(error) if error.kind() == ErrorKind::NotFound => "missing",
            Err(error) => return Err(Fail::io("cannot read", &error).at(path.display().to_string())),
        };
        shell.line(format_args!("{verdict} {}", path.display()))?;
        if verdict.trim_end() != "same" {
            exit = Exit::NotGood;
        }
    }
    Ok(exit)
}
