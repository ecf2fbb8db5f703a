//! What a command may touch: where its output goes, and the sign to stop.

use std::{
    fmt::Display,
    io::Write,
    sync::{
        Arc,
        atomic::{AtomicBool, Ordering},
    },
};

use crate::fail::Fail;

/// Set from outside (Ctrl-C, a test) to make a running command finish.
#[derive(Debug, Clone, Default)]
pub struct Stop(Arc<AtomicBool>);

impl Stop {
    /// Asks the command to finish.
    pub fn set(&self) {
        self.0.store(true, Ordering::Relaxed);
    }

    /// Whether the command should finish.
    #[must_use]
    pub fn is_set(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }

    /// The flag itself, for a signal handler.
    #[must_use]
    pub fn flag(&self) -> Arc<AtomicBool> {
        Arc::clone(&self.0)
    }
}

/// Where a command writes: results to `out`, everything else to `err`.
pub struct Shell<'a> {
    /// Standard output: the results and nothing else.
    pub out: &'a mut (dyn Write + Send),
    /// Standard error: remarks and errors.
    pub err: &'a mut (dyn Write + Send),
    /// Asked to finish.
    pub stop: Stop,
}

impl Shell<'_> {
    /// Writes one line of results and flushes, so that a reader behind a pipe sees it at once.
    ///
    /// # Errors
    /// [`Fail::output`]; a closed pipe ends the run quietly.
    pub fn line(&mut self, line: impl Display) -> Result<(), Fail> {
        writeln!(self.out, "{line}").and_then(|()| self.out.flush()).map_err(|e| Fail::output(&e))
    }

    /// Writes a remark to standard error. A lost remark is not worth an error.
    pub fn remark(&mut self, remark: impl Display) {
        let _ = writeln!(self.err, "{remark}");
    }
}
