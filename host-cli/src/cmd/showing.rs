//! Showing what a source gives, frame by frame, until it ends or is to end: the loop of `log` and `tap`.

use std::{
    io::{self, IsTerminal},
    sync::Arc,
    time::{Duration, Instant},
};

use crate::{
    args::{line::FrameArgs, record::RecordArgs},
    capture::{Existing, Recorded, Recorder},
    clock,
    endpoint::{Item, PortInfo, Source, Wiring},
    fail::Fail,
    messages::Table,
    report::{self, Format, Look, Names, Note, Record, Render, Start, Tracker},
    shell::Shell,
};

/// The longest wait, so that a wish to stop is seen soon.
const NAP: Duration = Duration::from_millis(100);
/// Octets of output that are gathered before they are written, where nobody is waiting for them.
const PAGE: usize = 1 << 16;
/// A step of the computer's clock that is worth telling.
const STEP: i128 = 500_000_000;

/// How to show it.
#[derive(Debug, Clone)]
pub(super) struct Showing {
    pub(super) format: Format,
    pub(super) table: Arc<Table>,
    pub(super) hex: bool,
    /// Ends after this time: of the clock for a live source, of its own time for one that is not.
    pub(super) for_time: Option<Duration>,
    /// What was asked for; what a port says of itself holds where nothing was.
    pub(super) frame: FrameArgs,
}

/// Puts the recording that was asked for, if any, between a source and its viewer.
///
/// # Errors
/// If the capture cannot be created.
pub(super) fn recorded(
    source: Box<dyn Source>,
    args: &RecordArgs,
    shell: &mut Shell<'_>,
) -> Result<Box<dyn Source>, Fail> {
    let Some(path) = &args.output else { return Ok(source) };
    let existing = if args.replace { Existing::Replace } else { Existing::Keep };
    let recorder = Recorder::create(path, args.rotate, existing)?;
    shell.remark(format_args!("recording to {}", recorder.path().display()));
    Ok(Box::new(Recorded::new(source, recorder)))
}

impl Showing {
    /// Shows what the source gives, then the sum. What ends the source early is given back after that.
    ///
    /// # Errors
    /// What ended the source, or a failed write to standard output.
    pub(super) fn run(self, mut source: Box<dyn Source>, shell: &mut Shell<'_>) -> Result<(), Fail> {
        let names = Names::of(source.ports(), source.sides());
        let for_time = self.for_time;
        let mut screen = Screen::new(self, names, source.is_live());
        screen.people(&source.preamble(), shell)?;
        screen.legend(shell)?;
        screen.render.head(&mut screen.out);
        let ended = screen.follow(source.as_mut(), for_time, shell);
        if ended.as_ref().is_err_and(Fail::is_quiet) {
            return ended; // nobody is there to see the rest
        }
        let closing = source.closing();
        let rest = screen.rest(source.as_mut(), shell);
        screen.sum(shell)?;
        screen.people(&closing, shell)?;
        ended.and(rest)
    }
}

/// What is shown, and the state of it.
struct Screen {
    showing: Showing,
    tracker: Tracker,
    render: Box<dyn Render>,
    names: Names,
    live: bool,
    known: usize,
    /// Time of the first item, where the source's own time counts.
    first: Option<u64>,
    out: Vec<u8>,
    clock: WallClock,
}

impl Screen {
    fn new(showing: Showing, names: Names, live: bool) -> Self {
        let colour = showing.format == Format::Text && colour();
        let look = Look { hex: showing.hex, colour, ..Look::default() };
        let table = Arc::clone(&showing.table);
        let render = report::renderer(showing.format, look, table, names.clone(), Arc::new(Start::default()));
        let out = Vec::new();
        let tracker = Tracker::new(showing.frame.wiring(Wiring::default()));
        Screen { showing, tracker, render, names, live, known: 0, first: None, out, clock: WallClock::new() }
    }

    /// Lines for people; beside JSON they go to standard error.
    fn people(&mut self, lines: &[String], shell: &mut Shell<'_>) -> Result<(), Fail> {
        for line in lines {
            match self.showing.format {
                Format::Text => self.out.extend_from_slice(format!("{line}\n").as_bytes()),
                Format::Json | Format::Csv | Format::Sheet(_) => shell.remark(line),
            }
        }
        self.print(shell)
    }

    /// Which number stands for which port.
    fn legend(&mut self, shell: &mut Shell<'_>) -> Result<(), Fail> {
        let ports = &self.names.ports;
        if ports.len() < 2 {
            return Ok(());
        }
        let lines: Vec<_> = ports
            .iter()
            .enumerate()
            .map(|(index, name)| format!("{index}: {}", report::harmless(name)))
            .collect();
        self.people(&lines, shell)
    }

    fn follow(
        &mut self,
        source: &mut dyn Source,
        time: Option<Duration>,
        shell: &mut Shell<'_>,
    ) -> Result<(), Fail> {
        let start = Instant::now();
        while !shell.stop.is_set() {
            let left = time.filter(|_| self.live).map_or(NAP, |time| time.saturating_sub(start.elapsed()));
            if left.is_zero() {
                break;
            }
            match source.next(left.min(NAP))? {
                Some(Item::End) => break,
                Some(item) if !self.live && self.is_past(&item, time) => break,
                Some(item) => self.item(item, source.ports(), shell)?,
                None if self.live => self.quiet(shell)?,
                None => self.print(shell)?,
            }
        }
        self.print(shell)
    }

    /// Whether an item of a source that is not live lies beyond this time, counted from its first item.
    fn is_past(&mut self, item: &Item, time: Option<Duration>) -> bool {
        let (Some(at), Some(time)) = (item.at(), time) else { return false };
        let first = *self.first.get_or_insert(at);
        u128::from(at.saturating_sub(first)) >= time.as_nanos()
    }

    /// What had come before the end and was not yet shown. A source that is not live holds nothing back but its future.
    fn rest(&mut self, source: &mut dyn Source, shell: &mut Shell<'_>) -> Result<(), Fail> {
        let now = clock::now();
        if !self.live {
            return self.print(shell);
        }
        loop {
            match source.next(Duration::ZERO)? {
                None | Some(Item::End) => return self.print(shell),
                Some(item) if item.at().is_some_and(|at| at > now) => return self.print(shell),
                Some(item) => self.item(item, source.ports(), shell)?,
            }
        }
    }

    fn item(&mut self, item: Item, ports: &[PortInfo], shell: &mut Shell<'_>) -> Result<(), Fail> {
        for (index, port) in ports.iter().enumerate().skip(self.known) {
            let wiring = self.showing.frame.wiring(port.wiring.unwrap_or_default());
            self.tracker.set_wiring(u16::try_from(index).unwrap_or(u16::MAX), wiring);
        }
        self.known = ports.len();
        let (render, out) = (&self.render, &mut self.out);
        self.tracker.item(item, &mut |record| render.record(&record, out));
        if self.live || self.out.len() >= PAGE { self.print(shell) } else { Ok(()) }
    }

    /// Nothing has come for a while.
    fn quiet(&mut self, shell: &mut Shell<'_>) -> Result<(), Fail> {
        let (render, out) = (&self.render, &mut self.out);
        self.tracker.tick(clock::now(), &mut |record| render.record(&record, out));
        if let Some(text) = self.clock.step() {
            let note = Note { at: Some(clock::now()), port: None, text };
            self.render.record(&Record::Note(note), &mut self.out);
        }
        self.print(shell)
    }

    fn sum(&mut self, shell: &mut Shell<'_>) -> Result<(), Fail> {
        let (render, out) = (&self.render, &mut self.out);
        self.tracker.finish(&mut |record| render.record(&record, out));
        self.render.record(&Record::Sum(Box::new(self.tracker.sum().clone())), &mut self.out);
        self.print(shell)
    }

    fn print(&mut self, shell: &mut Shell<'_>) -> Result<(), Fail> {
        if self.out.is_empty() {
            return Ok(());
        }
        let done = shell.out.write_all(&self.out).and_then(|()| shell.out.flush());
        self.out.clear();
        done.map_err(|error| Fail::output(&error))
    }
}

/// Watches for steps of the computer's own clock; times here go on without them.
struct WallClock {
    ahead: i128,
}

impl WallClock {
    fn new() -> Self {
        WallClock { ahead: Self::ahead() }
    }

    /// Nanoseconds by which the calendar runs ahead of our clock.
    fn ahead() -> i128 {
        let wall = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).unwrap_or_default();
        i128::try_from(wall.as_nanos()).unwrap_or(0) - i128::from(clock::now())
    }

    fn step(&mut self) -> Option<String> {
        let ahead = Self::ahead();
        let step = ahead - self.ahead;
        (step.abs() >= STEP).then(|| {
            self.ahead = ahead;
            let (sign, ms) = (if step < 0 { '-' } else { '+' }, step.abs() / 1_000_000);
            format!(
                "the computer's clock was set by {sign}{}.{:03} s; times here go on without the step",
                ms / 1000,
                ms % 1000
            )
        })
    }
}

/// Whether standard output shows colour: a terminal that does not ask us to leave it.
fn colour() -> bool {
    let asked_not = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
    let dumb = std::env::var_os("TERM").is_some_and(|term| term == "dumb");
    io::stdout().is_terminal() && !asked_not && !dumb
}
