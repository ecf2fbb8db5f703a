//! What is shown instead of running a command: help, the version, or what is wrong with the command line.

use crate::{exit::Exit, fail::Fail, lines, shell::Shell};

/// A page of text with the exit code that goes with it.
#[derive(Debug)]
pub struct Page(clap::Error);

impl From<clap::Error> for Page {
    fn from(error: clap::Error) -> Self {
        Self(error)
    }
}

impl Page {
    /// Prints the page: help to standard output, complaints to standard error. Never in colour.
    pub fn show(&self, shell: &mut Shell<'_>) -> Exit {
        let text = self.0.render().to_string();
        if self.0.use_stderr() {
            shell.remark(lines::wrap_all(text.trim_end()));
            return Exit::Usage;
        }
        match write!(shell.out, "{text}") {
            Ok(()) => Exit::Good,
            Err(error) => Fail::output(&error).exit(),
        }
    }
}
