//! What happens on the way to a state, as a ladder: the desk on the left, the dome on the right, frames between them.

use std::fmt::Write as _;

use bellwire::link::Event;

use super::sight::Sight;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    Desk,
    Dome,
}

impl Side {
    pub const fn of(who: usize) -> Self {
        if who == 0 { Self::Desk } else { Self::Dome }
    }
}

/// What becomes of a frame in a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Arrow {
    Leaves,
    Arrives,
    Lost,
}

#[derive(Debug, Clone)]
enum Row {
    /// A board does or learns something.
    Note(Side, String),
    /// A frame on its way from one side.
    Frame(Side, Arrow, String),
}

/// Rows, each with its step.
#[derive(Debug, Clone, Default)]
pub struct Diary {
    step: usize,
    rows: Vec<(usize, Row)>,
}

/// Columns of a ladder: what a board does, and the frames.
const NOTES: usize = 21;
const FRAMES: usize = 32;

impl Diary {
    pub fn next_step(&mut self) {
        self.step += 1;
    }

    pub fn note(&mut self, side: Side, words: String) {
        self.rows.push((self.step, Row::Note(side, words)));
    }

    /// What a board tells; `number` is the message that an outcome is for.
    pub fn tell(&mut self, side: Side, event: &Event<'_>, number: Option<usize>) {
        let words = match event {
            Event::Opened(_) => "open".to_owned(),
            Event::Ended(reason) => match reason {
                bellwire::link::EndReason::PeerRestarted(_) => "ended: peer left".to_owned(),
                other => format!("ended: {other:?}").to_lowercase(),
            },
            Event::Message(message) => {
                format!("takes {} {}", message.class.name(), message.payload.get(1).unwrap_or(&0))
            }
            Event::Outcome { outcome, .. } => {
                let outcome = match outcome {
                    bellwire::link::Outcome::Delivered => "delivered",
                    bellwire::link::Outcome::NotSent(_) => "not sent",
                    bellwire::link::Outcome::Unknown => "unknown",
                };
                format!("message {}: {outcome}", number.unwrap_or(0))
            }
            Event::Refused(reject) => format!("no: {}", reject.name()),
            Event::Resent { .. } => return,
            other => format!("{other:?}").to_lowercase(),
        };
        self.note(side, words);
    }

    pub fn leaves(&mut self, from: Side, sight: &Sight, room: bool) {
        let arrow = if room { Arrow::Leaves } else { Arrow::Lost };
        self.rows.push((self.step, Row::Frame(from, arrow, sight.words())));
    }

    pub fn arrives(&mut self, to: Side, sight: &Sight, how: &str) {
        let from = if to == Side::Desk { Side::Dome } else { Side::Desk };
        self.rows.push((self.step, Row::Frame(from, Arrow::Arrives, format!("{}{how}", sight.words()))));
    }

    pub fn lost(&mut self, to: Side, sight: &Sight) {
        let from = if to == Side::Desk { Side::Dome } else { Side::Desk };
        self.rows.push((self.step, Row::Frame(from, Arrow::Lost, sight.words())));
    }

    /// The ladder, 80 columns wide.
    pub fn ladder(&self) -> String {
        let mut text = format!("{:>4} {:<NOTES$}|{:^FRAMES$}|{}\n", "step", "desk", "on the way", "dome");
        let mut last = usize::MAX;
        for (step, row) in &self.rows {
            let label = if *step == last { String::new() } else { step.to_string() };
            last = *step;
            let (left, between, right) = row.columns();
            let line = format!("{label:>4} {left:<NOTES$}|{between}|{right}");
            let _ = writeln!(text, "{}", line.trim_end());
        }
        text
    }
}

impl Row {
    fn columns(&self) -> (&str, String, &str) {
        let empty = || " ".repeat(FRAMES);
        match self {
            Self::Note(Side::Desk, words) => (words, empty(), ""),
            Self::Note(Side::Dome, words) => ("", empty(), words),
            Self::Frame(from, arrow, words) => ("", between(*from, *arrow, words), ""),
        }
    }
}

/// A frame that leaves touches its sender's side, one that arrives the receiver's; a lost one touches neither.
fn between(from: Side, arrow: Arrow, words: &str) -> String {
    match (from, arrow) {
        (Side::Desk, Arrow::Leaves) => format!("{:<FRAMES$}", format!("{words} ->")),
        (Side::Desk, Arrow::Arrives) => format!("{:>FRAMES$}", format!("{words} ->")),
        (Side::Dome, Arrow::Leaves) => format!("{:>FRAMES$}", format!("<- {words}")),
        (Side::Dome, Arrow::Arrives) => format!("{:<FRAMES$}", format!("<- {words}")),
        (Side::Desk, Arrow::Lost) => format!("{:^FRAMES$}", format!("{words} -> lost")),
        (Side::Dome, Arrow::Lost) => format!("{:^FRAMES$}", format!("lost <- {words}")),
    }
}
