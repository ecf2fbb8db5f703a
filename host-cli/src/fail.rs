//! The one error of the tool: what went wrong, where, and what to do next.

use std::{fmt, io};

use crate::{exit::Exit, lines};

/// What stopped a command. Printed as short plain lines on standard error.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fail {
    exit: Exit,
    what: String,
    place: Option<String>,
    faults: Vec<String>,
    next: Vec<String>,
    tell: Tell,
}

/// Whether there is anybody to tell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Tell {
    User,
    /// The reader of the output went away (`| head`), which is no error.
    Nobody,
}

impl Fail {
    /// A failure that ends the run with `exit`. `what` is a short sentence without a full stop.
    #[must_use]
    pub fn new(exit: Exit, what: impl Into<String>) -> Self {
        Self { exit, what: what.into(), place: None, faults: Vec::new(), next: Vec::new(), tell: Tell::User }
    }

    /// Says where: a file and offset, a device, an option.
    #[must_use]
    pub fn at(mut self, place: impl Into<String>) -> Self {
        self.place = Some(place.into());
        self
    }

    /// Says one of several things that are wrong: its place, what it is, what to write instead; may be called again.
    #[must_use]
    pub fn fault(mut self, fault: impl Into<String>) -> Self {
        self.faults.push(fault.into());
        self
    }

    /// Says what to do next; may be called again for a further step.
    #[must_use]
    pub fn next(mut self, step: impl Into<String>) -> Self {
        self.next.push(step.into());
        self
    }

    /// A failed write to standard output. A closed pipe is not an error: the run ends quietly and well.
    #[must_use]
    pub fn output(error: &io::Error) -> Self {
        if error.kind() == io::ErrorKind::BrokenPipe {
            return Self {
                exit: Exit::Good,
                what: String::new(),
                place: None,
                faults: Vec::new(),
                next: Vec::new(),
                tell: Tell::Nobody,
            };
        }
        Self::io("cannot write the output", error)
    }

    /// A failed read or write. The exit code follows the kind of error.
    #[must_use]
    pub fn io(doing: &str, error: &io::Error) -> Self {
        let exit = match error.kind() {
            io::ErrorKind::PermissionDenied => Exit::Permission,
            io::ErrorKind::NotFound => Exit::Unavailable,
            _ => Exit::Io,
        };
        Self::new(exit, format!("{doing}: {error}"))
    }

    /// The exit code.
    #[must_use]
    pub const fn exit(&self) -> Exit {
        self.exit
    }

    /// What went wrong.
    #[must_use]
    pub fn what(&self) -> &str {
        &self.what
    }

    /// Whether there is nothing to print.
    #[must_use]
    pub fn is_quiet(&self) -> bool {
        self.tell == Tell::Nobody
    }
}

impl fmt::Display for Fail {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&lines::sentence("bellwire: ", &self.what))?;
        if let Some(place) = &self.place {
            write!(f, "\n  where: {place}")?;
        }
        for fault in &self.faults {
            write!(f, "\n{}", lines::sentence("  ", fault))?;
        }
        for step in &self.next {
            write!(f, "\n{}", lines::sentence("  next:  ", step))?;
        }
        Ok(())
    }
}

impl std::error::Error for Fail {}
