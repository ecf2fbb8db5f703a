//! Round trips over a pseudo-terminal: core to core through two processes, beside the bare pseudo-terminal in the same run.

use bellwire::{frame::Class, link::Outcome};
use bellwire_cli::{
    args::{line::LineArgs, peer::SelfArgs},
    endpoint::{EndpointSpec, LineFormat, Loss},
    talk::{Happening, Talk},
};
use rustix::{fs::OFlags, pty, termios};
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

fn raw(file: &File) -> io::Result<()> {
    let mut settings = termios::tcgetattr(file)?;
    settings.make_raw();
    Ok(termios::tcsetattr(file, termios::OptionalActions::Now, &settings)?)
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

/// Round trips of a bare pseudo-terminal, µs.
fn bare(all: &mut Vec<f64>) -> io::Result<()> {
    let flags = pty::OpenptFlags::RDWR | pty::OpenptFlags::NOCTTY;
    let ours = pty::openpt(flags)?;
    pty::grantpt(&ours)?;
    pty::unlockpt(&ours)?;
    let theirs = pty::ptsname(&ours, Vec::new())?.to_string_lossy().into_owned();
    let held =
        File::from(rustix::fs::open(&theirs, OFlags::RDWR | OFlags::NOCTTY, rustix::fs::Mode::empty())?);
    raw(&held)?;
    let _echo = Ends(Command::new(std::env::current_exe()?).args(["echo", &theirs]).spawn()?);
    let mut ours = File::from(ours);
    for trip in 0..WARM + TRIPS {
        let start = Instant::now();
        ours.write_all(&[0x55; OCTETS])?;
        ours.read_exact(&mut [0; OCTETS])?;
        if trip >= WARM {
            all.push(start.elapsed().as_secs_f64() * 1e6);
        }
    }
    Ok(())
}

/// From handing a report to the link to its outcome, with `bellwire peer` at the other side, µs.
fn core(tool: &str, folder: &Path, all: &mut Vec<f64>) -> io::Result<()> {
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
    for trip in 0..WARM + TRIPS {
        let start = Instant::now();
        talk.send(Class::Report, &[20; 16]).map_err(|error| io::Error::other(format!("{error:?}")))?;
        until(&mut talk, |happening| {
            matches!(happening, Happening::Outcome { outcome: Outcome::Delivered, .. })
        })?;
        if trip >= WARM {
            all.push(start.elapsed().as_secs_f64() * 1e6);
        }
    }
    Ok(())
}

fn median(all: &mut [f64]) -> f64 {
    all.sort_by(f64::total_cmp);
    all.get(all.len() / 2).copied().unwrap_or(0.0)
}

/// Both in turn; prints medians and their ratio.
pub fn trip(tool: &str, folder: &Path) -> io::Result<()> {
    let (mut plain, mut linked) = (Vec::new(), Vec::new());
    for _ in 0..5 {
        bare(&mut plain)?;
        core(tool, folder, &mut linked)?;
    }
    let (plain, linked) = (median(&mut plain), median(&mut linked));
    let ratio = linked / plain;
    let met = if ratio <= 1.5 { "met" } else { "MISSED" };
    writeln!(
        io::stdout(),
        "round trip over a pty, two processes: bare {plain:.1} us, core to core {linked:.1} us, ratio {ratio:.2}   target <= 1.5, {met}"
    )
}
