//! The real `bellwire` at a board's wire: a process, what it prints as it comes, and keys for it.

use std::{
    fs::{self, File},
    io::Write,
    os::unix::fs::OpenOptionsExt,
    path::{Path, PathBuf},
    process::{Child, Stdio},
    time::{Duration, Instant},
};

use rustix::{
    fs::OFlags,
    process::{Pid, Signal, kill_process},
    pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt},
};

use super::board::HANGS;
use crate::tool;

/// A running `bellwire`; killed when this is dropped.
#[derive(Debug)]
pub struct Tool {
    child: Child,
    keyboard: Option<File>,
    out: PathBuf,
    err: PathBuf,
}

/// How a run ended.
#[derive(Debug)]
pub struct Ended {
    /// The exit code.
    pub code: Option<i32>,
    /// All of standard output.
    pub out: String,
    /// All of standard error.
    pub err: String,
}

impl Tool {
    /// Starts the tool with these words; what it prints goes to files in `folder`.
    ///
    /// # Panics
    /// If it does not start.
    #[must_use]
    pub fn start(folder: &Path, words: &[&str]) -> Self {
        Self::with(folder, words, None)
    }

    /// As [`Tool::start`], with a terminal to take keys from.
    ///
    /// # Panics
    /// As there, and if the system has no pseudo-terminal.
    #[must_use]
    pub fn at_keyboard(folder: &Path, words: &[&str]) -> Self {
        let keyboard = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC)
            .and_then(|it| grantpt(&it).and_then(|()| unlockpt(&it)).map(|()| it))
            .expect("a pseudo-terminal");
        Self::with(folder, words, Some(File::from(keyboard)))
    }

    fn with(folder: &Path, words: &[&str], keyboard: Option<File>) -> Self {
        let number = fs::read_dir(folder).expect("a folder").count();
        let [out, err] = ["out", "err"].map(|what| folder.join(format!("tool{number}.{what}")));
        let stdin = keyboard.as_ref().map_or_else(Stdio::null, |keyboard| {
            let name = ptsname(keyboard, Vec::new()).expect("a name").into_string().expect("plain");
            let no_control = i32::try_from(OFlags::NOCTTY.bits()).expect("a flag");
            let terminal = File::options().read(true).write(true).custom_flags(no_control).open(name);
            Stdio::from(terminal.expect("a terminal"))
        });
        let child = tool::command()
            .args(words)
            .stdin(stdin)
            .stdout(File::create(&out).expect("a file"))
            .stderr(File::create(&err).expect("a file"))
            .spawn()
            .expect("the tool starts");
        Self { child, keyboard, out, err }
    }

    /// Presses keys.
    ///
    /// # Panics
    /// If it has no keyboard.
    pub fn press(&mut self, keys: &[u8]) {
        self.keyboard.as_mut().expect("a keyboard").write_all(keys).expect("the terminal takes keys");
    }

    /// What it has printed so far.
    ///
    /// # Panics
    /// If its file is gone.
    #[must_use]
    pub fn out(&self) -> String {
        String::from_utf8_lossy(&fs::read(&self.out).expect("its file")).into_owned()
    }

    /// Waits until it prints this.
    ///
    /// # Panics
    /// If it never does.
    pub fn shows(&mut self, text: &str) {
        let until = Instant::now() + HANGS;
        while !self.out().contains(text) {
            let over = self.child.try_wait().expect("a child of ours").is_some() || Instant::now() > until;
            let err = fs::read_to_string(&self.err).unwrap_or_default();
            assert!(!over || self.out().contains(text), "never {text:?}, but:\n{}{err}", self.out());
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    /// Waits until it ends by itself.
    ///
    /// # Panics
    /// If it never does.
    #[must_use]
    pub fn ends(mut self) -> Ended {
        let until = Instant::now() + HANGS;
        let code = loop {
            match self.child.try_wait().expect("a child of ours") {
                Some(status) => break status.code(),
                None => assert!(Instant::now() < until, "it never ended, but:\n{}", self.out()),
            }
            std::thread::sleep(Duration::from_millis(5));
        };
        let err = String::from_utf8_lossy(&fs::read(&self.err).expect("its file")).into_owned();
        Ended { code, out: self.out(), err }
    }

    /// Asks it to stop, as Ctrl-C does, and waits.
    ///
    /// # Panics
    /// If it does not.
    #[must_use]
    pub fn stop(self) -> Ended {
        kill_process(Pid::from_child(&self.child), Signal::INT).expect("it runs");
        self.ends()
    }
}

impl Drop for Tool {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Ended {
    /// The JSON records that it printed.
    ///
    /// # Panics
    /// If a line is none.
    #[must_use]
    pub fn records(&self) -> Vec<serde_json::Value> {
        self.out.lines().map(|line| serde_json::from_str(line).expect(line)).collect()
    }

    /// Holds it to an exit code.
    ///
    /// # Panics
    /// If it ended with another one.
    #[must_use]
    pub fn with_code(self, code: i32) -> Self {
        assert_eq!(self.code, Some(code), "{}{}", self.out, self.err);
        self
    }
}
