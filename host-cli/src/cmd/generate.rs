//! The command `generate`: writes code from an agreement.

use std::fs;

use crate::{
    agreement::Agreement,
    args::generate::GenerateArgs,
    exit::Exit,
    fail::Fail,
    generate::{Kind, save},
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
    let mut exit = Exit::Good;
    for kind in Kind::ALL.into_iter().filter(|kind| args.only.is_empty() || args.only.contains(kind)) {
        for (name, text) in kind.files(&agreement) {
            let path = args.to.join(name);
            let shown = path.display();
            if args.check {
                let is_same = fs::read_to_string(&path).is_ok_and(|there| there == text);
                shell.line(format_args!("{} {shown}", if is_same { "same   " } else { "differs" }))?;
                if !is_same {
                    exit = Exit::NotGood;
                }
                continue;
            }
            save::save(&path, &text).map_err(|error| {
                Fail::io("cannot write", &error)
                    .at(shown.to_string())
                    .next("give a folder that is there and may be written with --to")
            })?;
            shell.line(format_args!("wrote {shown}"))?;
        }
    }
    Ok(exit)
}
