//! Records as lines for people: at most 80 columns, plain words, no meaning by colour alone.
//!
//! ```text
//!   seconds from  what       which
//!     0.012 desk  set-point  3 dome-rate rate=1.25 °/s
//! ```

mod extension;
mod opening;

use opening::describe_ack;
pub(super) use {extension::describe_extended, opening::describe_open};

use super::{
    Aired, Event, Frame, Left, Look, Names, Record, Render, Start, What,
    put::{escaped, hex, moment, put, seconds},
    relayed, sum_text, words,
};
use crate::{
    endpoint::Direction,
    messages::{Table, told},
};
use bellwire::frame::{Addresses, Class, Kind, Open};
use std::{fmt::Write, sync::Arc};
use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

/// The widest line.
const COLUMNS: usize = 80;
/// Columns of the side and of the word before the sentence.
const SIDE: usize = 5;
const WORD: usize = 10;
const TIME: usize = 10;
const INDENT: usize = TIME + SIDE + WORD + 3;

/// Records as lines of text.
#[derive(Debug)]
pub(super) struct Lines {
    pub(super) table: Arc<Table>,
    pub(super) start: Arc<Start>,
    pub(super) look: Look,
    pub(super) names: Names,
}

/// The colour of a word; every one is also told by the word itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Tint {
    Plain,
    Good,
    Watch,
    Bad,
}

impl Tint {
    const fn code(self) -> &'static str {
        match self {
            Self::Plain => "",
            Self::Good => "\x1b[32m",
            Self::Watch => "\x1b[33m",
            Self::Bad => "\x1b[31m",
        }
    }
}

impl Lines {
    /// What the two directions of a port are called, and whether that names the port, too.
    fn sides(&self, port: u16) -> ([&str; 2], bool) {
        let own = self.names.by_port.get(usize::from(port)).and_then(Option::as_ref);
        let sides = own.or(self.names.sides.as_ref());
        (sides.map_or(words::SIDES, |[inward, outward]| [inward, outward]), own.is_some())
    }

    /// One record's line: time or place, side, word, sentence; the sentence is broken at spaces.
    fn line(&self, left: &str, side: &str, word: &str, tint: Tint, sentence: &str, out: &mut Vec<u8>) {
        let pad = |text: &str, width: usize| " ".repeat(width.saturating_sub(text.width()));
        put(out, &pad(left, TIME));
        put(out, left);
        put(out, " ");
        put(out, side);
        put(out, &pad(side, SIDE));
        put(out, " ");
        if self.look.colour && tint != Tint::Plain {
            put(out, tint.code());
            put(out, word);
            put(out, "\x1b[0m");
        } else {
            put(out, word);
        }
        let used = TIME + 1 + side.width().max(SIDE) + 1 + word.width().max(WORD);
        put(out, &pad(word, WORD));
        wrap(sentence, used, out);
    }

    /// Time since the first record, or the place in the stream where there are no times.
    fn left(&self, at: Option<u64>, place: Option<u64>) -> String {
        match (at, place) {
            (Some(at), _) => {
                let mut text = Vec::new();
                seconds(&mut text, at.saturating_sub(self.start.get(at)), 3);
                String::from_utf8(text).unwrap_or_default()
            }
            (None, Some(place)) => format!("@{place}"),
            (None, None) => String::new(),
        }
    }

    fn side(&self, port: u16, direction: Option<Direction>) -> String {
        let (sides, names_port) = self.sides(port);
        let side = direction.map_or("", |direction| words::side(direction, sides));
        if self.names.ports.len() > 1 && !names_port { format!("{port}:{side}") } else { side.to_owned() }
    }

    fn hex_lines(&self, octets: &[u8], out: &mut Vec<u8>) {
        if !self.look.hex {
            return;
        }
        for row in octets.chunks(16) {
            put(out, &" ".repeat(INDENT));
            for (column, octet) in row.iter().enumerate() {
                if column > 0 {
                    out.push(b' ');
                }
                hex(out, &[*octet]);
            }
            out.push(b'\n');
        }
    }

    fn frame(&self, frame: &Frame<'_>, out: &mut Vec<u8>) {
        let header = &frame.header;
        let mut sentence = match header.kind {
            Kind::Open => Open::parse(&frame.payload)
                .map_or_else(|_| String::new(), |open| describe_open(&open, &self.table)),
            Kind::Ack => String::new(),
            Kind::Extended => describe_extended(header.extension, &frame.payload),
            kind => kind.class().map_or_else(String::new, |class| self.message(class, frame)),
        };
        if let Some(addresses) = header.addresses {
            self.between(addresses, &mut sentence);
        }
        if let Some(ack) = header.ack {
            let part = describe_ack(ack);
            if sentence.is_empty() {
                sentence = part;
            } else {
                let _ = write!(sentence, "; {part}");
            }
        }
        if let Some(relayed) = relayed::relayed(frame) {
            let _ = write!(sentence, "; {}", relayed::text(&relayed, frame, &self.table));
        }
        if let Some(hearing) = words::hearing(frame) {
            let _ = write!(sentence, "; {}", words::hearing_text(&hearing));
        }
        append_aired(&mut sentence, frame.aired);
        let tint = if frame.sending > 1 { Tint::Watch } else { Tint::Plain };
        if frame.sending > 1 {
            let _ = write!(sentence, "; SENT AGAIN, {} sending", ordinal(frame.sending));
        }
        let left = self.left(frame.stamp.at, Some(frame.stamp.place));
        let side = self.side(frame.stamp.port, Some(frame.stamp.direction));
        self.line(&left, &side, header.kind.name(), tint, &sentence, out);
        self.hex_lines(&frame.payload, out);
    }

    /// Appends who talks to whom.
    fn between(&self, addresses: Addresses, sentence: &mut String) {
        let (from, to) = (self.table.who(addresses.from), self.table.who(addresses.to));
        let comma = if sentence.is_empty() { "" } else { ", " };
        let _ = write!(sentence, "{comma}{from} to {to}");
    }

    fn message(&self, class: Class, frame: &Frame<'_>) -> String {
        let (sequence, payload) = (frame.header.number, &*frame.payload);
        let Some(number) = words::message_number(payload) else {
            return format!("{sequence} void: its sender stopped trying");
        };
        if words::hearing(frame).is_some() && told(payload).is_empty() {
            return format!("{sequence} no message");
        }
        if relayed::relayed(frame).is_some_and(|relayed| relayed::outcome(&relayed).is_some()) {
            return sequence.to_string();
        }
        let Some(table) = self.table.of(frame.agreement) else {
            // Its names here may be others there: shown as it came.
            let mut text = format!("{sequence} message {number}, not of our agreement, raw: ").into_bytes();
            hex(&mut text, payload);
            return String::from_utf8(text).unwrap_or_default();
        };
        let Some(kind) = table.get(number) else {
            return format!("{sequence} message {number}, {} octets", told(payload).len());
        };
        if kind.class != class {
            return format!(
                "{sequence} message {number}, {} octets ({} would be a {})",
                told(payload).len(),
                kind.name,
                kind.class.name()
            );
        }
        let Some((_, values)) = table.read(class, payload) else {
            let len = told(payload).len();
            return format!("{sequence} {}, {len} octets that do not fit its fields", kind.name);
        };
        let mut text = format!("{sequence} {}", kind.name).into_bytes();
        values_text(values, &mut text);
        String::from_utf8(text).unwrap_or_default()
    }
}

/// Appends ` name=value unit` for each value, with texts escaped.
pub(super) fn values_text(values: crate::messages::Values<'_>, out: &mut Vec<u8>) {
    let mut plain = Vec::new();
    for (field, value) in values {
        out.push(b' ');
        put(out, &field.name);
        out.push(b'=');
        plain.clear();
        value.write_plain(&mut plain);
        escaped(out, &plain);
        if !field.unit.is_empty() {
            out.push(b' ');
            put(out, &field.unit);
        }
        if !field.allows(&value) {
            put(out, " (OUT OF RANGE)");
        }
    }
}

impl Render for Lines {
    fn head(&self, out: &mut Vec<u8>) {
        put(
            out,
            match self.look.left {
                Left::Seconds => "   seconds from  what       which\n",
                Left::Octets => "    @octet from  what       which\n",
            },
        );
    }

    fn record(&self, record: &Record<'_>, out: &mut Vec<u8>) {
        match record {
            Record::Frame(frame) => self.frame(frame, out),
            Record::Reject(refusal) => {
                let reject = refusal.reject;
                if let Some(beyond) = refusal.beyond() {
                    self.beyond(refusal, &beyond, out);
                    return;
                }
                let mut text = format!("{reject}; {} octets on the wire", refusal.wire);
                append_aired(&mut text, refusal.aired);
                let left = self.left(refusal.stamp.at, Some(refusal.stamp.place));
                let side = self.side(refusal.stamp.port, Some(refusal.stamp.direction));
                self.line(&left, &side, "REFUSED", Tint::Bad, &text, out);
                self.hex_lines(&refusal.octets, out);
            }
            Record::Text(text) => {
                let left = self.left(text.stamp.at, Some(text.stamp.place));
                let side = self.side(text.stamp.port, Some(text.stamp.direction));
                self.line(&left, &side, "text", Tint::Plain, &quoted(&text.octets), out);
                if let Some(hint) = text.hint {
                    self.line("", "", "", Tint::Watch, &format!("looks like {}", words::advice(hint)), out);
                }
                self.hex_lines(&text.octets, out);
            }
            // A report that went well is told by its acknowledgement, one line above; the sum counts it.
            Record::Event(Event {
                what: What::Delivered { class: Class::Report, sendings: 1, .. }, ..
            }) => {}
            Record::Event(event) => {
                let (word, tint) = event_look(&event.what);
                let left = self.left(event.stamp.at, Some(event.stamp.place));
                let side = self.side(event.stamp.port, Some(event.stamp.direction));
                let mut text = words::event(&event.what, &self.table, self.sides(event.stamp.port).0);
                if let Some(leaf) = event.leaf {
                    text = format!("{}: {text}", self.table.who(leaf));
                }
                self.line(&left, &side, word, tint, &text, out);
            }
            Record::Gap(gap) => {
                let (at, text) = match gap.to {
                    None => (gap.from, format!("not heard from here on: {}", harmless(&gap.why))),
                    Some(to) => {
                        let lasted = words::milliseconds(to.saturating_sub(gap.from));
                        (to, format!("heard again after {lasted} ({})", harmless(&gap.why)))
                    }
                };
                self.line(
                    &self.left(Some(at), None),
                    &self.side(gap.port, None),
                    "GAP",
                    Tint::Bad,
                    &text,
                    out,
                );
            }
            Record::Note(note) => {
                let side = note.port.map_or_else(String::new, |port| self.side(port, None));
                self.line(&self.left(note.at, None), &side, "note", Tint::Plain, &harmless(&note.text), out);
            }
            Record::Sum(sum) => sum_text::write(sum, out),
        }
    }
}

/// The word in the column of an event. What asks for attention is in capitals, so that it stands out without colour.
const fn event_look(what: &super::What) -> (&'static str, Tint) {
    match what {
        What::Opened { .. } => ("opened", Tint::Good),
        What::Restarted { .. } => ("RESTARTED", Tint::Bad),
        What::Ended => ("ENDED", Tint::Bad),
        What::Differs { .. } => ("DIFFERS", Tint::Bad),
        What::SessionUnseen { .. } => ("session", Tint::Watch),
        What::OtherSession { .. } => ("DROPPED", Tint::Watch),
        What::Delivered { .. } => ("delivered", Tint::Good),
        What::Missing { .. } => ("LOST", Tint::Bad),
        What::GivenUp { .. } => ("UNKNOWN", Tint::Bad),
        What::ProbeAnswered { .. } => ("probe", Tint::Good),
        What::Silent { .. } => ("SILENT", Tint::Bad),
        What::Own { word, .. } => (word, Tint::Plain),
    }
}

/// Appends what a radio board told.
fn append_aired(sentence: &mut String, aired: Option<Aired>) {
    if let Some(aired) = aired {
        let _ = write!(sentence, "; {}", aired.words());
    }
}

fn quoted(text: &[u8]) -> String {
    let mut out = vec![b'"'];
    escaped(&mut out, text);
    out.push(b'"');
    String::from_utf8(out).unwrap_or_default()
}

/// Text that may come from a file of somebody else's: control characters are escaped, so that it can do nothing to a terminal.
pub fn harmless(text: &str) -> String {
    let mut out = Vec::new();
    escaped(&mut out, text.as_bytes());
    String::from_utf8(out).unwrap_or_default()
}

fn ordinal(number: u8) -> String {
    match number {
        2 => "2nd".to_owned(),
        3 => "3rd".to_owned(),
        other => format!("{other}th"),
    }
}

/// Appends a sentence after column `column`, broken at spaces (or inside words that are too long), and a line end.
fn wrap(sentence: &str, mut column: usize, out: &mut Vec<u8>) {
    let indent = INDENT - 1;
    let new_line = |out: &mut Vec<u8>| {
        trim(out);
        out.push(b'\n');
        put(out, &" ".repeat(indent));
    };
    for word in sentence.split(' ') {
        if column + 1 + word.width() > COLUMNS && column > indent {
            new_line(out);
            column = indent;
        }
        out.push(b' ');
        column += 1;
        for character in word.chars() {
            let width = character.width().unwrap_or(0);
            if column + width > COLUMNS {
                new_line(out);
                out.push(b' ');
                column = INDENT;
            }
            put(out, character.encode_utf8(&mut [0; 4]));
            column += width;
        }
    }
    trim(out);
    out.push(b'\n');
}

fn trim(out: &mut Vec<u8>) {
    while out.last() == Some(&b' ') {
        out.pop();
    }
}

/// A moment for a remark such as "times count from 2026-…".
#[must_use]
pub fn moment_text(ns: u64) -> String {
    let mut out = Vec::new();
    moment(&mut out, ns);
    String::from_utf8(out).unwrap_or_default()
}
