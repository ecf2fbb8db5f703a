//! The command `send-file`: a file in parts, with its outcome.

use std::{
    fs,
    time::{Duration, Instant},
};

use bellwire::{
    retry::Policy,
    time,
    transfer::{MAX_SIZE, Offer, Outcome, PART_HEAD, Pace, Reason, Sender, crc_of},
};

use crate::{
    args::transfer::SendFileArgs,
    endpoint::EndpointSpec,
    exit::Exit,
    fail::Fail,
    lines,
    shell::Shell,
    transfer::{Gauge, Lane, octets},
};

/// The longest wait, so that a wish to stop is seen soon.
const NAP: Duration = Duration::from_millis(50);
/// While the line is full.
const FULL: Duration = Duration::from_millis(2);
const POLICY: Policy = Policy { tries: Some(5), ceiling: 2_000_000, spread: 64 };

/// A file on its way.
struct Sending<'a> {
    args: &'a SendFileArgs,
    content: Vec<u8>,
    sender: Sender,
    lane: Lane,
    gauge: Gauge,
    /// Which parts this run has sent.
    seen: Vec<bool>,
    sent: u64,
    resent: u64,
    resent_octets: u64,
    answered: bool,
}

/// Runs `send-file`.
///
/// # Errors
/// If the file cannot be sent, or the endpoint cannot be opened.
pub fn run(args: &SendFileArgs, shell: &mut Shell<'_>) -> Result<Exit, Fail> {
    let place = args.file.display().to_string();
    let content = fs::read(&args.file)
        .map_err(|error| Fail::io("cannot read what is to be sent", &error).at(place.clone()))?;
    let size = u32::try_from(content.len()).ok().filter(|size| (1..=MAX_SIZE).contains(size));
    let Some(size) = size else {
        let what = format!("a transfer takes 1 octet to 16 MiB, and this file has {} octets", content.len());
        let next = if content.is_empty() {
            "an empty file has nothing to send"
        } else {
            "split or compress it first"
        };
        return Err(Fail::new(Exit::BadInput, what).at(place).next(next));
    };
    let crc = crc_of(&content);
    // The same content has the same number, so that a second run goes on with the first one.
    let [.., number] = crc.to_le_bytes();
    let offer = Offer { number, crc, size, part: args.part, topic: args.topic };
    let octet_rate = match &args.endpoint {
        EndpointSpec::Path { line, .. } => line.unwrap_or(args.line.settings()).octet_rate(),
        _ => u32::MAX,
    };
    // The last part and a map on the wire, what the system still held, and a fifth of a second for the other side.
    let micros = 4000_u64 * 1_000_000 / u64::from(octet_rate.max(1)) + 200_000;
    let time_out = time::Duration::from_ticks(u32::try_from(micros).unwrap_or(u32::MAX).min(60_000_000));
    let pace = Pace { time_out, policy: POLICY, seed: crc | 1 };
    let sender = Sender::new(offer, pace).ok_or_else(|| Fail::new(Exit::Usage, "no such transfer can be"))?;
    let between = args.between.between(&*args.agreed.table()?)?;
    let lane = Lane::open(&args.endpoint, &args.line, between)?;
    let wait = lines::time(args.wait);
    shell
        .remark(format_args!("offering it on {}; without an answer it gives up after {wait}", args.endpoint));
    let seen = vec![false; usize::try_from(offer.parts()).unwrap_or(0)];
    let gauge = Gauge::new(args.json);
    let sending = Sending {
        args,
        content,
        sender,
        lane,
        gauge,
        seen,
        sent: 0,
        resent: 0,
        resent_octets: 0,
        answered: false,
    };
    sending.run(shell)
}

impl Sending<'_> {
    fn run(mut self, shell: &mut Shell<'_>) -> Result<Exit, Fail> {
        let (mut progress, mut moved) = (self.sender.progress(), Instant::now());
        loop {
            if shell.stop.is_set() {
                self.sender.stop(Reason::Stopped);
            }
            let wake =
                self.sender.poll_wake().map_or(NAP, |left| Duration::from_micros(left.as_ticks().into()));
            let wait = if wake.is_zero() && !self.lane.is_clear() { FULL } else { wake.min(NAP) };
            for body in self.lane.next(wait)? {
                // What is refused is of another transfer, or too late.
                if self.sender.handle(&body).is_ok() {
                    self.answered = true;
                    moved = if self.sender.progress() == progress { moved } else { Instant::now() };
                }
            }
            let span = self.lane.elapsed();
            self.sender.elapse(span);
            self.transmit()?;
            progress = self.sender.progress();
            if self.answered {
                self.gauge.show(progress, shell)?;
            }
            match self.sender.outcome() {
                Some(Outcome::Unknown) if moved.elapsed() < self.args.wait && !self.lane.has_ended() => {
                    self.sender.again();
                }
                Some(outcome) => return self.end(outcome, shell),
                None if moved.elapsed() >= self.args.wait || self.lane.has_ended() => {
                    return self.end(Outcome::Unknown, shell);
                }
                None => {}
            }
        }
    }

    fn transmit(&mut self) -> Result<(), Fail> {
        let mut out = [0; PART_HEAD + 1024];
        while self.lane.is_clear() {
            let (content, part, mut index) = (&self.content, u32::from(self.args.part), None);
            let len = self.sender.poll_transmit(&mut out, |place, room| {
                let range = place.start as usize..place.end as usize;
                index = Some((place.start / part) as usize);
                content.get(range).map(|octets| room.copy_from_slice(octets)).is_some()
            });
            let Some(body) = len.and_then(|len| out.get(..len)) else { break };
            self.lane.send(body)?;
            if let Some(seen) = index.and_then(|index| self.seen.get_mut(index)) {
                self.sent += 1;
                if std::mem::replace(seen, true) {
                    self.resent += 1;
                    self.resent_octets += (body.len() - PART_HEAD) as u64;
                }
            }
        }
        Ok(())
    }

    fn end(mut self, outcome: Outcome, shell: &mut Shell<'_>) -> Result<Exit, Fail> {
        self.transmit()?;
        self.lane.linger()?;
        let name = self.args.file.display();
        let progress = self.sender.progress();
        let mut books = format!("{} parts sent, {} of them again", self.sent, self.resent);
        if self.resent > 0 {
            books.push_str(&format!(" ({} octets)", self.resent_octets));
        }
        if self.gauge.from() > 0 {
            books.push_str(&format!("; {} octets were there already", self.gauge.from()));
        }
        let (word, text, exit) = match outcome {
            Outcome::Delivered => {
                let text = format!("{name}, {}, whole and checked; {books}", octets(progress.size.into()));
                ("delivered", text, Exit::Good)
            }
            Outcome::Refused(reason) => ("refused", format!("{name}: {reason}; {books}"), Exit::NotGood),
            Outcome::Stopped(reason) => ("stopped", format!("{name}: {reason}; {books}"), Exit::NotGood),
            Outcome::Unknown if !self.answered => {
                let what = format!("nobody took it within {}", lines::time(self.args.wait));
                let fail = Fail::new(Exit::Unavailable, what)
                    .at(self.args.endpoint.to_string())
                    .next("start `bellwire receive-file` or the board at the other end");
                return Err(self.lane.hint().into_iter().fold(fail, Fail::next));
            }
            Outcome::Unknown => {
                let text =
                    format!("{name}: no answer any more; {books}. The same command again goes on from here");
                ("unknown", text, Exit::NotGood)
            }
        };
        self.gauge.end(word, progress, &text, shell)?;
        Ok(exit)
    }
}
