//! The command `man`: manual pages made from the table of options.

use std::{fs, path::Path};

use clap_mangen::Man;

use crate::{args, exit::Exit, fail::Fail, shell::Shell};

/// Writes the main page to standard output, or one page a command into a folder.
///
/// # Errors
/// If a page cannot be written.
pub fn run(to: Option<&Path>, shell: &mut Shell<'_>) -> Result<Exit, Fail> {
    let table = args::table();
    let Some(folder) = to else {
        shell.out.write_all(&page(table)?).map_err(|e| Fail::output(&e))?;
        return Ok(Exit::Good);
    };
    let wrong = |error: &std::io::Error| {
        Fail::io("cannot write a manual page", error).at(folder.display().to_string())
    };
    fs::create_dir_all(folder).map_err(|e| wrong(&e))?;
    let pages: Vec<_> =
        table.get_subcommands().map(|c| (format!("bellwire-{}", c.get_name()), c.clone())).collect();
    let count = pages.len() + 1;
    fs::write(folder.join("bellwire.1"), page(table)?).map_err(|e| wrong(&e))?;
    for (name, command) in pages {
        fs::write(folder.join(format!("{name}.1")), page(command.name(name.clone()))?)
            .map_err(|e| wrong(&e))?;
    }
    shell.line(format_args!("wrote {count} pages to {}", folder.display()))?;
    Ok(Exit::Good)
}

fn page(command: clap::Command) -> Result<Vec<u8>, Fail> {
    let mut page = Vec::new();
    Man::new(command).render(&mut page).map_err(|e| Fail::io("cannot make a manual page", &e))?;
    Ok(page)
}
