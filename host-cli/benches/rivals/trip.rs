//! Round trips over a pseudo-terminal: two processes each with a port of the core, and through the tool,
//! beside the bare pseudo-terminal in the same run.

use bellwire::{
    frame::Class,
    io::std::Stream,
    link::{Config, Event, Outcome, OwnNumber, When},
    port::Port,
    time::elapsed,
};
use bellwire_cli::{
    args::{line::LineArgs, peer::SelfArgs},
    endpoint::{EndpointSpec, LineFormat, Loss},
    talk::{Happening, Talk},
};
use rustix::{
    event::{PollFd, PollFlags, Timespec, poll},
    fs::OFlags,
    pty, termios,
};
use std::{
    fs::{File, OpenOptions},
    io::{self, Read, Write},
    path::Path,
    process::{Child, Command, Stdio},
    time::{Duration, Instant},
};

/// Octets of one bare trip: about those of a report with 16 octets of payload on the wire.
const OCTETS: usize = 24;
/// Trips of one turn, after a few to warm up.
const TRIPS: usize = 500;
const WARM: usize = 20;

/// Ends a process when its turn is over.
struct Ends(Child);

impl Drop for Ends {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// A new pseudo-terminal in raw mode: our side, the other side and its path.
fn terminal() -> io::Result<(File, File, String)> {
    let ours = pty::openpt(pty::OpenptFlags::RDWR | pty::OpenptFlags::NOCTTY)?;
    pty::grantpt(&ours)?;
    pty::unlockpt(&ours)?;
    let path = pty::ptsname(&ours, Vec::new())?.to_string_lossy().into_owned();
    let held = File::from(rustix::fs::open(&path, OFlags::RDWR | OFlags::NOCTTY, rustix::fs::Mode::empty())?);
    let mut settings = termios::tcgetattr(&held)?;
    settings.make_raw();
    termios::tcsetattr(&held, termios::OptionalActions::Now, &settings)?;
    Ok((File::from(ours), held, path))
}

/// This program again, with these words.
fn again(words: [&str; 2]) -> io::Result<Ends> {
    Ok(Ends(Command::new(std::env::current_exe()?).args(words).spawn()?))
}

/// Sends back what comes, until the other side goes away.
pub fn echo(path: &Path) -> io::Result<()> {
    let mut file = OpenOptions::new().read(true).write(true).open(path)?;
    let mut buffer = [0; 4096];
    loop {
        match file.read(&mut buffer)? {
            0 => return Ok(()),
            len => file.write_all(&buffer[..len])?,
        }
    }
}

/// Times trips, µs, after those to warm up.
fn timed(all: &mut Vec<f64>, mut trip: impl FnMut() -> io::Result<()>) -> io::Result<()> {
    for count in 0..WARM + TRIPS {
        let start = Instant::now();
        trip()?;
        if count >= WARM {
            all.push(start.elapsed().as_secs_f64() * 1e6);
        }
    }
    Ok(())
}

/// Round trips of a bare pseudo-terminal: one write and one read on each side.
fn bare(all: &mut Vec<f64>) -> io::Result<()> {
    let (mut ours, _held, path) = terminal()?;
    let _echo = again(["echo", &path])?;
    timed(all, || {
        ours.write_all(&[0x55; OCTETS])?;
        ours.read_exact(&mut [0; OCTETS])
    })
}

/// A port of the core right on a file, served when the file has something or a timer is due.
struct Board {
    port: Port<Stream<File>>,
    file: File,
    begin: Instant,
}

impl Board {
    fn new(file: File, own: u32) -> io::Result<Self> {
        rustix::fs::fcntl_setfl(&file, OFlags::RDWR | OFlags::NONBLOCK)?;
        let config = Config::stream(OwnNumber::Random(own));
        let port = Port::uart(Stream(file.try_clone()?), config, bellwire::time::Instant::from_ticks(0));
        let mut board = Self { port, file, begin: Instant::now() };
        board.port.open(board.now());
        Ok(board)
    }

    #[allow(clippy::cast_possible_truncation)] // the link's clock wraps
    fn now(&self) -> bellwire::time::Instant {
        bellwire::time::Instant::from_ticks(self.begin.elapsed().as_micros() as u32)
    }

    /// Serves the port until an event of this sort.
    fn until(&mut self, wanted: fn(&Event<'_>) -> bool) -> io::Result<()> {
        loop {
            let now = self.now();
            while let Some(event) = self.port.service(now)? {
                if wanted(&event) {
                    return Ok(());
                }
            }
            let wait = match self.port.poll_wake().when {
                When::Now => continue,
                When::At(at) => i64::from(elapsed(at, self.now()).as_ticks()) * 1000,
                When::Idle => 1_000_000_000,
            };
            let wait = Timespec { tv_sec: wait / 1_000_000_000, tv_nsec: wait % 1_000_000_000 };
            poll(&mut [PollFd::new(&self.file, PollFlags::IN)], Some(&wait))?;
        }
    }
}

/// The far board: takes what comes, until the other side goes away.
pub fn board(path: &Path) -> io::Result<()> {
    let file = OpenOptions::new().read(true).write(true).open(path)?;
    Board::new(file, 0x51A7_0002)?.until(|_| false)
}

/// From handing a report to a port to its outcome, a port of the core on each side and nothing else.
fn core(all: &mut Vec<f64>) -> io::Result<()> {
    let (ours, _held, path) = terminal()?;
    let _far = again(["board", &path])?;
    let mut board = Board::new(ours, 0x2F0C_0001)?;
    board.until(|event| matches!(event, Event::Opened(_)))?;
    timed(all, || {
        let now = board.now();
        board.port.send(now, Class::Report, &[20; 16]).map_err(unsent)?;
        board.until(|event| matches!(event, Event::Outcome { outcome: Outcome::Delivered, .. }))
    })
}

fn unsent(error: bellwire::link::SendError) -> io::Error {
    io::Error::other(format!("{error:?}"))
}

/// As [`core`], but through the tool: its endpoint and threads on this side, `bellwire peer` on the other.
fn tool(tool: &str, folder: &Path, all: &mut Vec<f64>) -> io::Result<()> {
    let path = folder.join("desk");
    let twin = format!("twin:{}", path.display());
    let _peer =
        Ends(Command::new(tool).args(["peer", &twin]).stdout(Stdio::null()).stderr(Stdio::null()).spawn()?);
    let begin = Instant::now();
    while !path.exists() && begin.elapsed() < Duration::from_secs(5) {
        std::thread::sleep(Duration::from_millis(5));
    }
    let failed = |fail: bellwire_cli::fail::Fail| io::Error::other(fail.to_string());
    let spec = path.to_string_lossy().parse::<EndpointSpec>().map_err(io::Error::other)?;
    let line = LineArgs { rate: 1_000_000, format: LineFormat::default(), frame: Default::default() };
    let mut talk = Talk::open(&spec, &line, &SelfArgs::default(), Loss::Wait).map_err(failed)?;
    let until = |talk: &mut Talk, wanted: fn(&Happening) -> bool| loop {
        match talk.next(Duration::from_secs(5)).map_err(failed)? {
            Some(happening) if wanted(&happening) => return Ok(()),
            Some(_) => {}
            None => return Err(io::Error::other("no answer from `bellwire peer` in 5 s")),
        }
    };
    until(&mut talk, |happening| matches!(happening, Happening::Opened(_)))?;
    timed(all, || {
        talk.send(Class::Report, &[20; 16]).map_err(unsent)?;
        until(&mut talk, |happening| {
            matches!(happening, Happening::Outcome { outcome: Outcome::Delivered, .. })
        })
    })
}

fn median(all: &mut [f64]) -> f64 {
    all.sort_by(f64::total_cmp);
    all.get(all.len() / 2).copied().unwrap_or(0.0)
}

/// All in turn; prints medians and their ratios to the bare pseudo-terminal.
pub fn trip(program: &str, folder: &Path) -> io::Result<()> {
    let (mut plain, mut linked, mut tooled) = (Vec::new(), Vec::new(), Vec::new());
    for _ in 0..5 {
        bare(&mut plain)?;
        core(&mut linked)?;
        tool(program, folder, &mut tooled)?;
    }
    let (plain, linked, tooled) = (median(&mut plain), median(&mut linked), median(&mut tooled));
    let ratio = linked / plain;
    let met = if ratio <= 1.5 { "met" } else { "MISSED" };
    let mut out = io::stdout();
    writeln!(out, "round trip of a report over a pty, two processes, median")?;
    writeln!(out, "  bare                 {plain:6.1} us")?;
    writeln!(out, "  core to core         {linked:6.1} us, {ratio:.2} x bare   target <= 1.5, {met}")?;
    writeln!(out, "  through `bellwire`   {tooled:6.1} us, {:.2} x bare   no target", tooled / plain)
}
