//! The command `receive-file`: takes a transfer into a file.

use std::{
    io,
    time::{Duration, Instant},
};

use bellwire::{
    time,
    transfer::{Input, Limits, MAP_LEN, MAX_SIZE, Progress, Reason, Receiver, State},
};

use crate::{
    args::transfer::ReceiveFileArgs,
    exit::Exit,
    fail::Fail,
    lines,
    shell::Shell,
    transfer::{Gauge, Lane, Partial, octets},
};

/// The longest wait, so that a wish to stop is seen soon.
const NAP: Duration = Duration::from_millis(50);
/// How long the sender may still ask once it is whole: its DONE may be lost.
const LINGER: Duration = Duration::from_millis(1500);

/// A file on its way in.
struct Receiving<'a> {
    args: &'a ReceiveFileArgs,
    partial: Partial,
    receiver: Receiver,
    lane: Lane,
    gauge: Gauge,
    /// When the last body came that was taken.
    moved: Instant,
    taken: u64,
    repeats: u64,
    trouble: Option<io::Error>,
}

/// Runs `receive-file`.
///
/// # Errors
/// If the file cannot be written, the endpoint cannot be opened, or nobody sends.
pub fn run(args: &ReceiveFileArgs, shell: &mut Shell<'_>) -> Result<Exit, Fail> {
    let largest = u32::try_from(args.largest).unwrap_or(MAX_SIZE).min(MAX_SIZE);
    let patience = time::Duration::from_millis(10_000);
    let limits = Limits { largest, part: 1000, window: args.window, patience };
    let place = args.path.display().to_string();
    let (partial, receiver) = Partial::open(&args.path, limits)
        .map_err(|error| Fail::io("cannot read what came earlier", &error).at(place.clone()))?;
    if args.path.exists() && receiver.state() != State::Done {
        return Err(Fail::new(Exit::Usage, "the file is there already, and nothing is overwritten")
            .at(place)
            .next("give another PATH, or move the file away"));
    }
    let between = args.between.between(&*args.agreed.table()?)?;
    let lane = Lane::open(&args.endpoint, &args.line, between)?;
    shell.remark(format_args!("waiting on {} for a sender", args.endpoint));
    let gauge = Gauge::new(args.json);
    let (moved, taken, repeats, trouble) = (Instant::now(), 0, 0, None);
    let mut receiving = Receiving { args, partial, receiver, lane, gauge, moved, taken, repeats, trouble };
    let exit = receiving.run(shell);
    receiving.lane.linger()?;
    exit
}

impl Receiving<'_> {
    fn run(&mut self, shell: &mut Shell<'_>) -> Result<Exit, Fail> {
        if self.receiver.state() == State::Done && !self.args.path.exists() {
            self.trouble = self.partial.finish().err();
        }
        if let Some(progress) = self.receiver.progress() {
            self.gauge.show(progress, shell)?;
        }
        loop {
            if shell.stop.is_set() {
                self.receiver.refuse(Reason::Stopped);
            }
            for body in self.lane.next(NAP)? {
                self.take(&body);
                self.answer()?;
            }
            self.receiver.elapse(self.lane.elapsed());
            if self.receiver.state() == State::Checking {
                self.check();
            }
            self.answer()?;
            if let Some(progress) = self.receiver.progress().filter(|_| self.is_on()) {
                self.gauge.show(progress, shell)?;
            }
            let quiet = self.moved.elapsed();
            match self.receiver.state() {
                State::Done if quiet >= LINGER || shell.stop.is_set() => return self.whole(shell),
                State::Over(reason) => return self.over(reason, shell),
                State::Idle if shell.stop.is_set() => return Ok(Exit::NotGood),
                State::Done => {}
                _ if quiet >= self.args.wait || self.lane.has_ended() => return self.quiet(shell),
                _ => {}
            }
        }
    }

    const fn is_on(&self) -> bool {
        matches!(self.receiver.state(), State::Taking | State::Checking | State::Done)
    }

    fn take(&mut self, body: &[u8]) {
        let input = match self.receiver.handle(body) {
            Ok(input) => input,
            Err(bellwire::transfer::Refused::Repeat) => {
                self.repeats += 1;
                Input::Nothing
            }
            Err(_) => return,
        };
        self.moved = Instant::now();
        let done = match input {
            Input::Nothing | Input::Stopped(_) => Ok(()),
            // It was whole already when this run began: another content must not take its name.
            Input::Offered(_) if self.args.path.exists() => {
                self.receiver.refuse(Reason::NotWanted);
                Ok(())
            }
            Input::Offered(_) => self.partial.begin().map(|()| self.receiver.accept()),
            Input::Store { index, at, octets } => self.partial.store(at, octets).and_then(|()| {
                self.taken += 1;
                self.receiver.stored(index);
                self.partial.keep(&self.receiver)
            }),
        };
        if let Err(error) = done {
            self.trouble = Some(error);
            self.receiver.refuse(Reason::Storage);
        }
    }

    /// Checks the whole, and gives it its name.
    fn check(&mut self) {
        let size = self.receiver.offer().map_or(0, |offer| offer.size);
        let done = self.partial.crc(size).and_then(|crc| {
            if !self.receiver.checked(crc) {
                return Ok(());
            }
            // First the word that it is whole, then the name: killed between the two, the next run names it.
            self.partial.keep(&self.receiver)?;
            self.partial.finish()
        });
        if let Err(error) = done {
            self.trouble = Some(error);
            self.receiver.refuse(Reason::Storage);
        }
    }

    fn answer(&mut self) -> Result<(), Fail> {
        let mut out = [0; MAP_LEN];
        if let Some(body) = self.receiver.poll_transmit(&mut out).and_then(|len| out.get(..len)) {
            self.lane.send(body)?;
        }
        Ok(())
    }

    fn progress(&self) -> Progress {
        self.receiver.progress().unwrap_or(Progress { held: 0, size: 0 })
    }

    fn books(&self) -> String {
        let earlier = self.gauge.from();
        let earlier =
            if earlier > 0 { format!(", {earlier} octets from an earlier run") } else { String::new() };
        format!("{} parts stored, {} came twice{earlier}", self.taken, self.repeats)
    }

    fn whole(&mut self, shell: &mut Shell<'_>) -> Result<Exit, Fail> {
        if let Some(error) = self.trouble.take() {
            let place = self.args.path.display().to_string();
            return Err(Fail::io("it is whole, but cannot be given its name", &error)
                .at(place)
                .next("make room, then give the same command again"));
        }
        self.partial.forget().map_err(|error| Fail::io("cannot remove the map", &error))?;
        let progress = self.progress();
        let (name, size) = (self.args.path.display(), octets(progress.size.into()));
        let text = format!("{name}, {size}, whole and checked; {}", self.books());
        self.gauge.end("received", progress, &text, shell)?;
        Ok(Exit::Good)
    }

    fn over(&mut self, reason: Reason, shell: &mut Shell<'_>) -> Result<Exit, Fail> {
        self.partial.forget().map_err(|error| Fail::io("cannot remove what came", &error))?;
        if let Some(error) = self.trouble.take() {
            let place = self.args.path.display().to_string();
            return Err(Fail::io("cannot store what comes; the sender was told", &error).at(place));
        }
        let text = format!("{reason}; {}, nothing is kept", self.books());
        self.gauge.end("ended", self.progress(), &text, shell)?;
        Ok(Exit::NotGood)
    }

    fn quiet(&mut self, shell: &mut Shell<'_>) -> Result<Exit, Fail> {
        let wait = lines::time(self.args.wait);
        if self.receiver.state() == State::Idle {
            let fail = Fail::new(Exit::Unavailable, format!("nobody offered anything within {wait}"))
                .at(self.args.endpoint.to_string())
                .next("start `bellwire send-file FILE` or the board at the other end")
                .next("an offer above --largest is refused, and its sender told so");
            return Err(self.lane.hint().into_iter().fold(fail, Fail::next));
        }
        let text = format!("no part for {wait}; {}. The same command again goes on from here", self.books());
        self.gauge.end("unknown", self.progress(), &text, shell)?;
        Ok(Exit::NotGood)
    }
}
