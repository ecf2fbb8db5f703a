//! One run: let go, re-arm, turn, cease, and wait for the board's word.

use std::{
    sync::{Arc, atomic::Ordering},
    time::{Duration, Instant},
};

use bellwire::{frame::Class, link::Outcome};

use super::{
    course::{Course, Says},
    muted::{Mute, Muted},
};
use crate::{
    args::{
        agreed::AgreedArgs,
        stop_test::{Ceases, StopTestArgs},
    },
    endpoint::Loss,
    exit::Exit,
    fail::Fail,
    messages::Table,
    shell::Shell,
    talk::{Happening, Talk, mismatched, random32},
};

/// The longest wait in one piece.
const NAP: Duration = Duration::from_millis(5);
/// So many stop values go before the re-arming, at least: one or two may be lost.
const STOPS: u32 = 3;

/// So often a run is begun again where the board stopped before news was to cease, or this computer stood still.
const TRIES: u32 = 5;

/// How a run ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Stopped {
    /// The board said so, so long after the last set-point was handed over.
    After(Duration),
    /// No word came in time.
    NoWord,
}

/// What is sent again and again.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Sends {
    Moving,
    Stop,
}

/// A desk that turns something and lets go.
pub(super) struct Drive<'a> {
    args: &'a StopTestArgs,
    course: &'a Course,
    table: Arc<Table>,
    talk: Talk,
    mute: Mute,
    /// When a set-point was last handed over.
    sent: Instant,
    /// How many were, of the phase, and the longest pause between two of them.
    count: u32,
    pause: Duration,
}

impl<'a> Drive<'a> {
    /// Opens the endpoint.
    ///
    /// # Errors
    /// As [`Talk::open`].
    pub(super) fn open(args: &'a StopTestArgs, course: &'a Course, table: &Arc<Table>) -> Result<Self, Fail> {
        let mute = Mute::default();
        let around = Mute::clone(&mute);
        let mut ourselves = args.agreed.ourselves(&args.ourselves, table);
        ourselves.between = AgreedArgs::with_leaf(args.to.as_deref(), table)?;
        let talk = Talk::open_with(&args.endpoint, &args.line, &ourselves, Loss::End, |inner| {
            Box::new(Muted { inner, mute: around })
        })?;
        Ok(Self {
            args,
            course,
            table: Arc::clone(table),
            talk,
            mute,
            sent: Instant::now(),
            count: 0,
            pause: Duration::ZERO,
        })
    }

    /// One run; `None` if the user wants to stop.
    ///
    /// # Errors
    /// If the board cannot be brought to turn.
    pub(super) fn run(&mut self, shell: &Shell<'_>) -> Result<Option<Stopped>, Fail> {
        for _ in 0..TRIES {
            if !self.turn(shell)? {
                return Ok(None);
            }
            if self.goes_on()? {
                if self.args.how == Ceases::Cut {
                    self.mute.store(true, Ordering::Relaxed);
                }
                return self.wait_for_stop(shell);
            }
        }
        Err(Fail::new(Exit::Unavailable, format!("it stopped {TRIES} times while set-points were still sent"))
            .at(self.args.endpoint.to_string())
            .next("look for a limit switch, for octets lost on the line, and for other work that this computer does"))
    }

    /// Lets go, re-arms and turns; `false` if the user wants to stop.
    fn turn(&mut self, shell: &Shell<'_>) -> Result<bool, Fail> {
        self.mute.store(false, Ordering::Relaxed);
        // The stop value first, until the board stands still and has heard it; then the operator's act, which --arm stands for.
        let stands = self.steer(Sends::Stop, STOPS, Says::Stands, shell)?;
        if !self.found(stands, "no report that it stands still", shell)? || !self.rearm(shell)? {
            return Ok(false);
        }
        let moves = self.steer(Sends::Moving, 1, Says::Moves, shell)?;
        self.found(moves, "no report that it moves", shell)
    }

    /// Sends some more set-points, the last one at the end; `false` if the board stopped meanwhile, or may have: the time since the last one would then
    /// be none of its stop.
    fn goes_on(&mut self) -> Result<bool, Fail> {
        self.pause = Duration::ZERO;
        // Right after a report, so that no other one is in the way; and each time at another moment of the board's loop.
        let more = Duration::from_micros(u64::from(random32()? % 50_000));
        let until = Instant::now() + self.args.period * 2 + more;
        while Instant::now() < until {
            self.keep(Sends::Moving)?;
            if self.stopped(NAP)? {
                return Ok(false);
            }
        }
        // What has come by now was told before the last set-point.
        let has_stopped = self.stopped(Duration::ZERO)?;
        self.send(Sends::Moving)?;
        let limit = self.args.limit.unwrap_or(self.course.fresh());
        Ok(!has_stopped && self.pause < limit / 2)
    }

    /// Whether the next thing that happens is word of a stop.
    fn stopped(&mut self, wait: Duration) -> Result<bool, Fail> {
        Ok(match self.talk.next(wait)? {
            Some(Happening::Message(received)) => self.course.says_stopped(&received),
            _ => false,
        })
    }

    fn wait_for_stop(&mut self, shell: &Shell<'_>) -> Result<Option<Stopped>, Fail> {
        let until = self.sent + self.args.wait;
        while Instant::now() < until {
            if shell.stop.is_set() {
                return Ok(None);
            }
            if self.stopped(NAP)? {
                return Ok(Some(Stopped::After(self.sent.elapsed())));
            }
        }
        Ok(Some(Stopped::NoWord))
    }

    /// The errand that lets the board move again, if it needs one.
    fn rearm(&mut self, shell: &Shell<'_>) -> Result<bool, Fail> {
        let Some(errand) = self.course.rearm() else { return Ok(true) };
        let sent = self.talk.send(Class::Errand, errand).ok();
        let of = |happening: &Happening| match happening {
            Happening::Outcome { ticket, outcome } if Some(*ticket) == sent => Some(*outcome),
            _ => None,
        };
        let until = Instant::now() + self.args.wait;
        while Instant::now() < until && sent.is_some() {
            if shell.stop.is_set() {
                return Ok(false);
            }
            self.keep(Sends::Stop)?;
            match self.talk.next(NAP)?.as_ref().and_then(of) {
                Some(Outcome::Delivered) => return Ok(true),
                Some(_) => break,
                None => {}
            }
        }
        Err(self.fail("not re-armed: the errand was not delivered"))
    }

    /// Sends this, at least so many times, until a report says so; `None` if none did in time or the user wants to stop.
    fn steer(
        &mut self,
        what: Sends,
        least: u32,
        wanted: Says,
        shell: &Shell<'_>,
    ) -> Result<Option<()>, Fail> {
        let until = Instant::now() + self.args.wait;
        let mut said = false;
        self.count = 0;
        while Instant::now() < until && !shell.stop.is_set() {
            self.keep(what)?;
            let happening = self.talk.next(NAP)?;
            match &happening {
                Some(Happening::Mismatch { ours, theirs }) => {
                    return Err(mismatched(ours, theirs, &self.table));
                }
                Some(Happening::Opened(_)) => self.count = 0,
                Some(Happening::End) => break,
                _ => said |= self.says(happening.as_ref()) == Some(wanted),
            }
            if said && self.count >= least {
                return Ok(Some(()));
            }
        }
        Ok(None)
    }

    fn says(&self, happening: Option<&Happening>) -> Option<Says> {
        match happening {
            Some(Happening::Message(received)) => self.course.says(received),
            _ => None,
        }
    }

    fn found(&self, found: Option<()>, what: &str, shell: &Shell<'_>) -> Result<bool, Fail> {
        match found {
            Some(()) => Ok(true),
            None if shell.stop.is_set() => Ok(false),
            None => Err(self.fail(what)),
        }
    }

    fn fail(&self, what: &str) -> Fail {
        let endpoint = &self.args.endpoint;
        Fail::new(Exit::Unavailable, format!("{what} within {:?}", self.args.wait))
            .at(endpoint.to_string())
            .next(format!("`bellwire check {endpoint}` tells whether the line works"))
            .next(format!("`bellwire log {endpoint} --peer` shows what the board reports"))
    }

    /// Sends a set-point if it is time.
    fn keep(&mut self, what: Sends) -> Result<(), Fail> {
        if self.sent.elapsed() >= self.args.period { self.send(what) } else { Ok(()) }
    }

    fn send(&mut self, what: Sends) -> Result<(), Fail> {
        let payload = match what {
            Sends::Moving => self.course.moving(),
            Sends::Stop => self.course.stop(),
        };
        // Without a session nothing is sent, and nothing turns.
        let is_sent = self.talk.send(Class::SetPoint, payload).is_ok();
        self.talk.flush()?;
        self.count += u32::from(is_sent);
        self.pause = self.pause.max(self.sent.elapsed());
        self.sent = Instant::now();
        Ok(())
    }

    /// The stop value, as a best effort, and the end of the session.
    pub(super) fn rest(&mut self) {
        self.mute.store(false, Ordering::Relaxed);
        let _ = self.send(Sends::Stop);
        self.talk.close();
        let _ = self.talk.flush();
    }
}
