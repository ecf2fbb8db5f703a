//! The host tool of Bellwire, as a library so that tests run it in process.
//!
//! [`run`] takes a command line and gives an [`exit::Exit`]; `args` is the table of commands and options, `cmd` has one
//! module a command.

pub mod agreement;
pub mod args;
pub mod beyond;
pub mod boards;
pub mod capture;
pub mod caution;
pub mod clock;
pub mod cmd;
pub mod decode;
pub mod demo;
pub mod endpoint;
pub mod exit;
pub mod explain;
pub mod fail;
pub mod generate;
pub mod lines;
pub mod machine;
pub mod messages;
pub mod observatory;
pub mod report;
pub mod roster;
pub mod shell;
pub mod signals;
pub mod sim;
pub mod talk;
pub mod transfer;

use std::ffi::OsString;

use exit::Exit;
use shell::Shell;

/// Runs one command line (its first word is the program's name) and gives the exit code. Never prints past a closed pipe.
pub fn run(words: impl IntoIterator<Item = OsString>, shell: &mut Shell<'_>) -> Exit {
    let command = match args::parse(words) {
        Ok(command) => command,
        Err(page) => return page.show(shell),
    };
    match cmd::run(&command, shell) {
        Ok(exit) => exit,
        Err(fail) => {
            if !fail.is_quiet() {
                shell.remark(&fail);
            }
            fail.exit()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(line: &str) -> (Exit, String, String) {
        let (mut out, mut err) = (Vec::new(), Vec::new());
        let mut shell = Shell { out: &mut out, err: &mut err, stop: shell::Stop::default() };
        let exit = run(line.split(' ').map(OsString::from), &mut shell);
        (exit, String::from_utf8(out).unwrap(), String::from_utf8(err).unwrap())
    }

    #[test]
    fn the_table_holds_together() {
        args::table().debug_assert();
    }

    #[test]
    fn help_is_on_standard_output_with_examples_before_options() {
        for command in [
            "log",
            "decode",
            "ports",
            "tap",
            "peer",
            "inject",
            "steer",
            "stop-test",
            "replay",
            "check",
            "agreement",
            "compare",
            "explain",
            "completions",
            "man",
        ] {
            let (exit, out, err) = words(&format!("bellwire {command} --help"));
            assert_eq!((exit, err.as_str()), (Exit::Good, ""), "{command}");
            let (example, option) = (out.find("Example").unwrap(), out.find("Options:").unwrap());
            assert!(example < option, "{command}");
            assert!(out.lines().all(|line| line.chars().count() <= 80), "{command}:\n{out}");
        }
    }

    #[test]
    fn the_main_page_documents_every_exit_code() {
        let (exit, out, _) = words("bellwire --help");
        assert_eq!(exit, Exit::Good);
        for code in Exit::ALL {
            assert!(out.contains(&format!("\n  {:<3} {}", code.code(), code.meaning())), "{code:?}");
        }
        assert!(out.lines().all(|line| line.chars().count() <= 80), "{out}");
    }

    #[test]
    fn a_near_miss_is_suggested_and_a_prefix_is_not_taken() {
        let (exit, out, err) = words("bellwire decod x");
        assert_eq!((exit, out.as_str()), (Exit::Usage, ""));
        assert!(err.contains("'decode'"), "{err}");
        assert_eq!(words("bellwire dec x").0, Exit::Usage);
        assert_eq!(words("bellwire log demo: --js").0, Exit::Usage);
    }

    #[test]
    fn a_bad_unit_is_explained() {
        let (exit, _, err) = words("bellwire log demo: --for 20");
        assert_eq!(exit, Exit::Usage);
        assert!(err.contains("say the unit: 20s or 20ms"), "{err}");
    }
}
