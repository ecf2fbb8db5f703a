//! The tool as a process, its lines as they come.

use std::{
    ffi::OsStr,
    io::{BufRead, BufReader, Read, Write},
    process::{Child, Command, Stdio},
    sync::mpsc::{Receiver, RecvTimeoutError, channel},
    time::{Duration, Instant},
};

/// Nothing here takes this long unless it hangs.
pub(crate) const HANGS: Duration = Duration::from_secs(30);

/// A running `bellwire`; killed when dropped.
pub(crate) struct Tool {
    child: Child,
    lines: Receiver<String>,
    seen: Vec<String>,
}

/// How a run ended.
#[derive(Debug)]
pub(crate) struct Ended {
    /// The exit code.
    pub(crate) code: Option<i32>,
    /// All of standard output.
    pub(crate) out: String,
    /// All of standard error.
    pub(crate) err: String,
}

impl Tool {
    /// Starts the tool with these words.
    pub(crate) fn start<S: AsRef<OsStr>>(words: &[S]) -> Self {
        let mut child = Command::new(env!("CARGO_BIN_EXE_bellwire"))
            .args(words)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the tool starts");
        let out = BufReader::new(child.stdout.take().expect("piped"));
        let (sender, lines) = channel();
        std::thread::spawn(move || {
            out.lines().map_while(Result::ok).try_for_each(|line| sender.send(line)).ok();
        });
        Self { child, lines, seen: Vec::new() }
    }

    /// Waits for the first line of output, from here on, that `is` the one.
    pub(crate) fn line(&mut self, is: impl Fn(&str) -> bool) -> String {
        let end = Instant::now() + HANGS;
        loop {
            match self.lines.recv_timeout(end.saturating_duration_since(Instant::now())) {
                Ok(line) => {
                    self.seen.push(line.clone());
                    if is(&line) {
                        return line;
                    }
                }
                Err(RecvTimeoutError::Timeout) => panic!("the line never came; seen: {:#?}", self.seen),
                Err(RecvTimeoutError::Disconnected) => {
                    let mut err = String::new();
                    self.child.stderr.take().map(|mut stderr| stderr.read_to_string(&mut err));
                    panic!("the tool ended early; seen: {:#?}\n{err}", self.seen)
                }
            }
        }
    }

    /// Waits for a line that holds this text.
    pub(crate) fn line_with(&mut self, text: &str) -> String {
        self.line(|line| line.contains(text))
    }

    /// Forgets the lines that have come so far.
    pub(crate) fn forget(&mut self) {
        self.seen.extend(self.lines.try_iter());
        self.seen.clear();
    }

    /// The lines since the last [`Tool::forget`], without waiting for more.
    pub(crate) fn so_far(&mut self) -> &[String] {
        self.seen.extend(self.lines.try_iter());
        &self.seen
    }

    /// Asks it to stop, as Ctrl-C does, and waits.
    pub(crate) fn stop(self) -> Ended {
        let pid = rustix::process::Pid::from_child(&self.child);
        rustix::process::kill_process(pid, rustix::process::Signal::INT).expect("still running");
        self.end()
    }

    /// Waits until it ends.
    pub(crate) fn end(mut self) -> Ended {
        let mut err = String::new();
        if let Some(mut stderr) = self.child.stderr.take() {
            stderr.read_to_string(&mut err).expect("text");
        }
        let code = self.child.wait().expect("it ends").code();
        self.seen.extend(self.lines.iter());
        let out = self.seen.iter().map(|line| format!("{line}\n")).collect();
        Ended { code, out, err }
    }
}

impl Drop for Tool {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Runs the tool to its end.
pub(crate) fn run<S: AsRef<OsStr>>(words: &[S]) -> Ended {
    Tool::start(words).end()
}

/// A folder of the test's own and a path in it.
pub(crate) fn folder() -> (tempfile::TempDir, String) {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("dome").to_str().expect("plain").to_owned();
    (folder, path)
}

/// Waits until the tool has made its twin.
pub(crate) fn twin_is_there(path: &str) {
    let end = Instant::now() + HANGS;
    while std::fs::symlink_metadata(path).is_err() {
        assert!(Instant::now() < end, "{path} never came");
        std::thread::sleep(Duration::from_millis(5));
    }
}

/// The board's side of a twin, once it is there.
pub(crate) fn open_twin(path: &str) -> std::fs::File {
    use std::os::unix::fs::OpenOptionsExt;
    const NOCTTY: i32 = 0o400;
    let end = Instant::now() + HANGS;
    loop {
        match std::fs::OpenOptions::new().read(true).write(true).custom_flags(NOCTTY).open(path) {
            Ok(file) => return file,
            Err(error) if Instant::now() > end => panic!("{path}: {error}"),
            Err(_) => std::thread::sleep(Duration::from_millis(5)),
        }
    }
}

/// A board made of a function: gets what came in, gives what goes out. Ends when the other side does.
pub(crate) fn board(
    path: &str,
    mut answer: impl FnMut(&[u8]) -> Vec<u8> + Send + 'static,
) -> std::thread::JoinHandle<()> {
    let mut twin = open_twin(path);
    std::thread::spawn(move || {
        let mut buffer = [0; 4096];
        while let Ok(len @ 1..) = twin.read(&mut buffer) {
            if twin.write_all(&answer(&buffer[..len])).is_err() {
                return;
            }
        }
    })
}
