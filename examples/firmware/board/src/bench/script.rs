//! What happens to the board, and when: the README of the firmware has the list.
//!
//! The emulator hands it over as the program's arguments, each `WHAT@MILLISECONDS` or `WHAT@MILLISECONDS:VALUE`, in any order.

use bellwire::{
    link::OwnNumber,
    time::{Instant, elapsed},
};

use super::{LISTENS, exit, line, say, semihosting};

/// The most arguments; those behind are not heard.
const STEPS: usize = 24;

/// What a script does to the inputs of a board.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Act {
    /// It begins to rain, or ends.
    Rain(bool),
    /// The operator wants this rate, 0.01 °/s.
    Rate(i32),
    /// The operator re-arms the dome.
    Rearm,
    /// The operator opens the shutter, or closes it.
    Shutter(bool),
    /// The operator sends the dome there, 0.01°.
    Goto(i32),
    /// The operator sends the focuser there, µm.
    Focus(i32),
}

/// What happens to the board.
#[derive(Debug)]
pub struct Script {
    steps: [Option<Step>; STEPS],
    own: Option<OwnNumber>,
}

#[derive(Debug, Clone, Copy)]
struct Step {
    at: Instant,
    what: What,
}

#[derive(Debug, Clone, Copy)]
enum What {
    Act(Act),
    Stall {
        micros: u32,
    },
    #[cfg(any(machine = "m3", machine = "m4"))]
    Deaf {
        millis: u32,
    },
    Fault,
    Panic,
    End,
}

impl Script {
    /// Reads the arguments.
    pub(crate) fn read() -> Self {
        let mut script = Self { steps: [None; STEPS], own: None };
        if LISTENS {
            let mut octets = [0; 512];
            let mut free = script.steps.iter_mut();
            for word in semihosting::arguments(&mut octets).split(|&octet| octet == b' ') {
                if let Some(number) = word.strip_prefix(b"number:") {
                    script.own = Some(OwnNumber::Random(digits(number)));
                } else if let Some(step) = step(word)
                    && let Some(cell) = free.next()
                {
                    *cell = Some(step);
                }
            }
        }
        script
    }

    /// The board's own number, if the script gives one.
    pub(crate) const fn own(&self) -> Option<OwnNumber> {
        self.own
    }

    /// Does what is due to the whole board, and gives the next thing that is due to its inputs. Call it until it gives none.
    pub fn due(&mut self, now: Instant) -> Option<Act> {
        if !LISTENS {
            return None;
        }
        for cell in &mut self.steps {
            let is_due = |step: &mut Step| step.at == now || elapsed(now, step.at).as_ticks() > 0;
            let Some(step) = cell.take_if(is_due) else { continue };
            match step.what {
                What::Act(act) => return Some(act),
                What::Stall { micros } => stall(micros),
                #[cfg(any(machine = "m3", machine = "m4"))]
                What::Deaf { millis } => deaf(millis),
                What::Fault => semihosting::fault(),
                What::Panic => plant(),
                What::End => exit(0),
            }
        }
        None
    }
}

/// Lets the loop stand still.
fn stall(micros: u32) {
    say(line("stall us=").count(micros));
    let start = crate::now();
    while elapsed(crate::now(), start).as_ticks() < micros {
        core::hint::spin_loop();
    }
    say(line("goes on"));
}

/// Holds all interrupts off.
#[cfg(any(machine = "m3", machine = "m4"))]
fn deaf(millis: u32) {
    say(line("deaf ms=").count(millis));
    crate::machine::hear_nothing(millis);
    say(line("hears again"));
}

/// A panic path, where the image asks for one.
fn plant() {
    #[cfg(feature = "plant")]
    panic!("planted");
}

/// Reads `WHAT@MILLISECONDS:VALUE`.
fn step(word: &[u8]) -> Option<Step> {
    let mut halves = word.splitn(2, |&octet| octet == b'@');
    let (name, rest) = (halves.next()?, halves.next()?);
    let mut halves = rest.splitn(2, |&octet| octet == b':');
    let (at, value) = (digits(halves.next()?), halves.next().unwrap_or_default());
    let signed = match value.strip_prefix(b"-") {
        Some(value) => digits(value).cast_signed().wrapping_neg(),
        None => digits(value).cast_signed(),
    };
    let what = match name {
        b"rain" => What::Act(Act::Rain(true)),
        b"dry" => What::Act(Act::Rain(false)),
        b"rate" => What::Act(Act::Rate(signed)),
        b"rearm" => What::Act(Act::Rearm),
        b"open" => What::Act(Act::Shutter(true)),
        b"close" => What::Act(Act::Shutter(false)),
        b"goto" => What::Act(Act::Goto(signed)),
        b"focus" => What::Act(Act::Focus(signed)),
        b"stall" => What::Stall { micros: digits(value).wrapping_mul(1_000) },
        #[cfg(any(machine = "m3", machine = "m4"))]
        b"deaf" => What::Deaf { millis: digits(value) },
        b"fault" => What::Fault,
        b"panic" => What::Panic,
        b"end" => What::End,
        _ => return None,
    };
    Some(Step { at: Instant::from_ticks(at.wrapping_mul(1_000)), what })
}

/// The number in decimal digits.
fn digits(word: &[u8]) -> u32 {
    word.iter().fold(0, |number: u32, &digit| {
        number.wrapping_mul(10).wrapping_add(u32::from(digit.wrapping_sub(b'0')))
    })
}
