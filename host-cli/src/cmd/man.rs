//! The command `man`: manual pages made from the table of options.

use std::{fs, path::Path};

use clap_mangen::{
    Man,
    roff::{Roff, roman},
};

use crate::{args, caution, exit::Exit, fail::Fail, shell::Shell};

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

/// One page: clap's sections, and between them the examples of the help page and the exit codes.
fn page(command: clap::Command) -> Result<Vec<u8>, Fail> {
    let main = command.has_subcommands();
    let mut extra = Roff::new();
    if let Some(examples) = command.get_before_help() {
        let text = examples.to_string();
        let lines: Vec<_> = text.lines().skip(1).map(str::trim).collect();
        section(&mut extra, "EXAMPLES", &lines);
    }
    let after = command.get_after_help().map(ToString::to_string);
    match after.as_deref().and_then(|text| text.split("\n\n").next()) {
        Some(endpoints) if main => {
            let lines: Vec<_> = endpoints.lines().skip(1).map(str::trim).collect();
            section(&mut extra, "ENDPOINTS", &lines);
        }
        Some(_) => section(&mut extra, "CAUTION", &[caution::MOVING, caution::COPIES]),
        None => {}
    }
    let codes: Vec<_> =
        Exit::ALL.iter().map(|exit| format!("{:<3} {}", exit.code(), exit.meaning())).collect();
    section(&mut extra, "EXIT STATUS", &codes.iter().map(String::as_str).collect::<Vec<_>>());
    let man = Man::new(command).section("1");
    let mut page = Vec::new();
    let write = |page: &mut Vec<u8>| {
        man.render_title(page)?;
        man.render_name_section(page)?;
        man.render_synopsis_section(page)?;
        man.render_description_section(page)?;
        man.render_options_section(page)?;
        if main {
            man.render_subcommands_section(page)?;
        }
        extra.to_writer(page)
    };
    write(&mut page).map_err(|e| Fail::io("cannot make a manual page", &e))?;
    Ok(page)
}

/// A section of lines that are not filled.
fn section(roff: &mut Roff, title: &str, lines: &[&str]) {
    roff.control("SH", [title]);
    roff.control("nf", []);
    for line in lines {
        roff.text([roman(*line)]);
    }
    roff.control("fi", []);
}
