//! One run: let go, re-arm, turn, cease, and wait for the board's word.

use std::{
    sync::atomic::Ordering,
    time::{Duration, Instant},
};

use bellwire::{frame::Class, link::Outcome};

use super::muted::{Mute, Muted};
use crate::{
    args::stop_test::{Ceases, StopTestArgs},
    endpoint::Loss,
    exit::Exit,
    fail::Fail,
    observatory::{Alarm, Message, Motion},
    shell::Shell,
    talk::{Happening, Talk, random32},
};

/// The longest wait in one piece.
const NAP: Duration = Duration::from_millis(5);

/// How a run ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Stopped {
    /// The board said so, so long after the last set-point was handed over.
    After(Duration),
    /// No word came in time.
    NoWord,
}

/// A desk that turns the dome and lets go.
pub(super) struct Drive<'a> {
    args: &'a StopTestArgs,
    rate: i16,
    talk: Talk,
    mute: Mute,
    /// When a set-point was last handed over.
    sent: Instant,
}

impl<'a> Drive<'a> {
    /// Opens the endpoint.
    ///
    /// # Errors
    /// As [`Talk::open`].
    pub(super) fn open(args: &'a StopTestArgs, rate: i16) -> Result<Self, Fail> {
        let mute = Mute::default();
        let around = Mute::clone(&mute);
        let talk = Talk::open_with(&args.endpoint, &args.line, &args.ourselves, Loss::End, |inner| {
            Box::new(Muted { inner, mute: around })
        })?;
        Ok(Self { args, rate, talk, mute, sent: Instant::now() })
    }

    /// One run; `None` if the user wants to stop.
    ///
    /// # Errors
    /// If the board cannot be brought to turn.
    pub(super) fn run(&mut self, shell: &Shell<'_>) -> Result<Option<Stopped>, Fail> {
        self.mute.store(false, Ordering::Relaxed);
        // The stop value first, until the board wants to be re-armed; then the operator's act, which --arm stands for.
        let ready = self.steer(0, shell, |message| moves_as(message, Motion::ReArm))?;
        if !self.found(ready, "no report that the board stands still", shell)? {
            return Ok(None);
        }
        if !self.rearm(shell)? {
            return Ok(None);
        }
        let rate = self.rate;
        let turns = self.steer(rate, shell, |message| {
            matches!(message, Message::DomeState { rate: now, motion: Motion::Running, .. } if *now == rate)
        })?;
        if !self.found(turns, "no report that the board turns", shell)? {
            return Ok(None);
        }
        // Right after a report, so that no other one is in the way; and each time at another moment of the board's loop.
        let more = Duration::from_micros(u64::from(random32()? % 50_000));
        let until = Instant::now() + self.args.period * 2 + more;
        while Instant::now() < until {
            self.keep(rate)?;
            self.talk.next(NAP)?;
        }
        self.send(rate)?;
        if self.args.how == Ceases::Cut {
            self.mute.store(true, Ordering::Relaxed);
        }
        self.wait_for_stop(shell)
    }

    fn wait_for_stop(&mut self, shell: &Shell<'_>) -> Result<Option<Stopped>, Fail> {
        let until = self.sent + self.args.wait;
        while Instant::now() < until {
            if shell.stop.is_set() {
                return Ok(None);
            }
            let happening = self.talk.next(NAP)?;
            let message = happening.as_ref().and_then(message);
            let stopped = message.is_some_and(|message| {
                matches!(message, Message::DomeAlarm { reason: Alarm::NoNews })
                    || moves_as(&message, Motion::Stale)
                    || moves_as(&message, Motion::Held)
            });
            if stopped {
                return Ok(Some(Stopped::After(self.sent.elapsed())));
            }
        }
        Ok(Some(Stopped::NoWord))
    }

    /// The errand that lets the board move again.
    fn rearm(&mut self, shell: &Shell<'_>) -> Result<bool, Fail> {
        let sent = self.talk.send(Class::Errand, &Message::ReArm.payload()).ok();
        let of = |happening: &Happening| match happening {
            Happening::Outcome { ticket, outcome } if Some(*ticket) == sent => Some(*outcome),
            _ => None,
        };
        let until = Instant::now() + self.args.wait;
        while Instant::now() < until && sent.is_some() {
            if shell.stop.is_set() {
                return Ok(false);
            }
            self.keep(0)?;
            match self.talk.next(NAP)?.as_ref().and_then(of) {
                Some(Outcome::Delivered) => return Ok(true),
                Some(_) => break,
                None => {}
            }
        }
        Err(self.fail("not re-armed: the errand was not delivered"))
    }

    /// Sends this rate until a message `is` the one; `None` if none came in time or the user wants to stop.
    fn steer(
        &mut self,
        rate: i16,
        shell: &Shell<'_>,
        is: impl Fn(&Message) -> bool,
    ) -> Result<Option<()>, Fail> {
        let until = Instant::now() + self.args.wait;
        while Instant::now() < until && !shell.stop.is_set() {
            self.keep(rate)?;
            match self.talk.next(NAP)? {
                Some(Happening::Mismatch { .. }) => {
                    return Err(Fail::new(
                        Exit::Mismatch,
                        "the board holds another agreement or wire version",
                    )
                    .at(self.args.endpoint.to_string()));
                }
                Some(Happening::End) => break,
                Some(happening) if message(&happening).is_some_and(|message| is(&message)) => {
                    return Ok(Some(()));
                }
                _ => {}
            }
        }
        Ok(None)
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
            .next(format!("`bellwire steer {endpoint}` shows what the board reports"))
    }

    /// Sends a set-point if it is time.
    fn keep(&mut self, rate: i16) -> Result<(), Fail> {
        if self.sent.elapsed() >= self.args.period { self.send(rate) } else { Ok(()) }
    }

    fn send(&mut self, rate: i16) -> Result<(), Fail> {
        // Without a session nothing is sent, and nothing turns.
        let _ = self.talk.send(Class::SetPoint, &Message::DomeRate { rate }.payload());
        self.talk.flush()?;
        self.sent = Instant::now();
        Ok(())
    }

    /// The stop value, as a best effort, and the end of the session.
    pub(super) fn rest(&mut self) {
        self.mute.store(false, Ordering::Relaxed);
        let _ = self.send(0);
        self.talk.close();
        let _ = self.talk.flush();
    }
}

fn message(happening: &Happening) -> Option<Message> {
    match happening {
        Happening::Message(received) => Message::from_payload(&received.payload),
        _ => None,
    }
}

fn moves_as(message: &Message, wanted: Motion) -> bool {
    matches!(message, Message::DomeState { motion, .. } if *motion == wanted)
}
