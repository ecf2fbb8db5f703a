//! Records as comma-separated values (RFC 4180), one row each, the same columns for all.

use super::{
    Aired, Frame, Record, Render, Stamp, Start,
    put::{decimal, escaped, hex, moment, put, seconds},
    slab::{Phrase, Slab},
    text::{describe_extended, describe_open, values_text},
    words,
};
use crate::{endpoint::Direction, messages::Table};
use bellwire::frame::{Class, Kind, Open};
use std::sync::Arc;

/// The columns.
pub(super) const HEAD: &str = "record,at,seconds,port,direction,place,wire,kind,number,sending,next,held,message,name,\
values,octets,text,from,to,strength\n";

/// The kinds as cells.
const KINDS: [Phrase<16>; Kind::ALL.len()] = Phrase::of_kinds(",", ",");

/// Records as rows.
#[derive(Debug)]
pub(super) struct Csv {
    table: Arc<Table>,
    start: Arc<Start>,
}

impl Csv {
    pub(super) const fn new(table: Arc<Table>, start: Arc<Start>) -> Self {
        Self { table, start }
    }

    /// `,at,seconds`
    fn time(&self, at: Option<u64>, out: &mut Vec<u8>) {
        let Some(at) = at else {
            put(out, ",,");
            return;
        };
        out.push(b',');
        moment(out, at);
        out.push(b',');
        seconds(out, at.saturating_sub(self.start.get(at)), 9);
    }

    /// `,at,seconds,port,direction,place`
    fn stamp(&self, stamp: &Stamp, out: &mut Vec<u8>) {
        self.time(stamp.at, out);
        out.push(b',');
        decimal(out, stamp.port);
        put(
            out,
            match stamp.direction {
                Direction::In => ",in,",
                Direction::Out => ",out,",
            },
        );
        decimal(out, stamp.place);
    }

    /// A whole row.
    fn frame(&self, frame: &Frame<'_>, out: &mut Vec<u8>) {
        let Frame { stamp, wire, header, payload, sending, agreement, .. } = frame;
        let table = self.table.of(*agreement);
        let message = words::message_number(payload).filter(|_| header.kind.class().is_some());
        Slab::append(out, 160, |slab| {
            slab.put(b"frame,");
            if let Some(at) = stamp.at {
                slab.moment(at);
                slab.put(b",");
                slab.seconds(at.saturating_sub(self.start.get(at)));
            } else {
                slab.put(b",");
            }
            slab.put(b",");
            slab.small(stamp.port.into());
            match stamp.direction {
                Direction::In => slab.put(b",in,"),
                Direction::Out => slab.put(b",out,"),
            }
            slab.decimal(stamp.place);
            slab.put(b",");
            slab.small((*wire).into());
            slab.phrase(&KINDS[header.kind as usize - 1]);
            if header.kind.is_numbered() {
                slab.small(header.number.into());
            }
            slab.put(b",");
            slab.small((*sending).into());
            slab.put(b",");
            if let Some(ack) = header.ack {
                slab.small(ack.next.into());
                slab.put(b",");
                if let Some(held) = ack.held {
                    slab.small(held.into());
                }
            } else {
                slab.put(b",");
            }
            slab.put(b",");
            if let Some(number) = message {
                slab.small(number.into());
            }
            slab.put(b",");
        });
        match header.kind.class().zip(table.zip(message).and_then(|(table, number)| table.get(number))) {
            Some((class, kind)) => values(table, class, &kind.name, payload, out),
            None => out.push(b','),
        }
        Slab::append(out, 8 + 2 * payload.len(), |slab| {
            slab.put(b",");
            slab.hex(payload);
            slab.put(b",");
        });
        let text = match header.kind {
            Kind::Open => {
                Open::parse(payload).map_or_else(|_| String::new(), |open| describe_open(&open, &self.table))
            }
            Kind::Extended => describe_extended(header.extension, payload),
            _ => String::new(),
        };
        cell(out, text.as_bytes());
        out.push(b'\n');
    }
}

/// `name,values`
fn values(table: Option<&Table>, class: Class, name: &str, payload: &[u8], out: &mut Vec<u8>) {
    cell(out, name.as_bytes());
    out.push(b',');
    if let Some((_, values)) = table.and_then(|table| table.read(class, payload)) {
        let mut text = Vec::new();
        values_text(values, &mut text);
        cell(out, text.trim_ascii());
    }
}

impl Render for Csv {
    fn head(&self, out: &mut Vec<u8>) {
        put(out, HEAD);
    }

    fn record(&self, record: &Record<'_>, out: &mut Vec<u8>) {
        self.row(record, out);
        out.pop(); // the line end
        star(record, out);
    }
}

/// `,from,to,strength` and the line end.
fn star(record: &Record<'_>, out: &mut Vec<u8>) {
    let (addresses, aired) = match record {
        Record::Frame(frame) => (frame.header.addresses, frame.aired),
        Record::Reject(refusal) => (refusal.beyond().and_then(|beyond| beyond.addresses), refusal.aired),
        _ => (None, None),
    };
    match addresses {
        None => put(out, ",,,"),
        Some(pair) => {
            out.push(b',');
            decimal(out, pair.from);
            out.push(b',');
            decimal(out, pair.to);
            out.push(b',');
        }
    }
    if let Some(Aired::Heard { strength: Some(dbm), .. }) = aired {
        put(out, &dbm.to_string());
    }
    out.push(b'\n');
}

impl Csv {
    /// A row up to the column `text`.
    fn row(&self, record: &Record<'_>, out: &mut Vec<u8>) {
        if !matches!(record, Record::Frame(_)) {
            put(out, record.name());
        }
        match record {
            Record::Frame(frame) => self.frame(frame, out),
            Record::Reject(refusal) => {
                self.stamp(&refusal.stamp, out);
                out.push(b',');
                decimal(out, refusal.wire);
                put(out, ",,,,,,,,,");
                hex(out, &refusal.octets);
                out.push(b',');
                let said =
                    refusal.beyond().map_or_else(|| refusal.reject.to_string(), |beyond| beyond.sentence());
                cell(out, said.as_bytes());
                out.push(b'\n');
            }
            Record::Text(text) => {
                self.stamp(&text.stamp, out);
                put(out, ",,,,,,,,,,,");
                foreign(out, &text.octets);
                out.push(b'\n');
            }
            Record::Event(event) => {
                self.stamp(&event.stamp, out);
                put(out, ",,");
                put(out, words::event_word(&event.what));
                put(out, ",,,,,,,,,");
                cell(out, words::event(&event.what, &self.table, words::SIDES).as_bytes());
                out.push(b'\n');
            }
            Record::Gap(gap) => {
                self.time(Some(gap.from), out);
                out.push(b',');
                decimal(out, gap.port);
                let text = match gap.to {
                    None => gap.why.clone(),
                    Some(to) => format!(
                        "over after {}: {}",
                        words::milliseconds(to.saturating_sub(gap.from)),
                        gap.why
                    ),
                };
                rest(&text, out);
            }
            Record::Note(note) => {
                self.time(note.at, out);
                out.push(b',');
                if let Some(port) = note.port {
                    decimal(out, port);
                }
                rest(&note.text, out);
            }
            Record::Sum(sum) => {
                self.time(None, out);
                out.push(b',');
                rest(
                    &format!(
                        "{} frames, {} refused, {} text octets, {} octets in all",
                        sum.all_frames(),
                        sum.all_rejects(),
                        sum.text_octets,
                        sum.octets
                    ),
                    out,
                );
            }
        }
    }
}

/// The columns after `port`, of which only the last is filled.
fn rest(text: &str, out: &mut Vec<u8>) {
    put(out, ",,,,,,,,,,,,,");
    foreign(out, text.as_bytes());
    out.push(b'\n');
}

/// Appends text of others as a cell, escaped. What would make a formula of it in a spreadsheet, `=`, `+`, `-` or `@` at its beginning, is escaped, too.
pub(super) fn foreign(out: &mut Vec<u8>, text: &[u8]) {
    let mut shown = Vec::new();
    let rest = match text.split_first() {
        Some((&first @ (b'=' | b'+' | b'-' | b'@'), rest)) => {
            put(&mut shown, &format!("\\x{first:02x}"));
            rest
        }
        _ => text,
    };
    escaped(&mut shown, rest);
    cell(out, &shown);
}

/// Appends a cell, quoted where it must be.
pub(super) fn cell(out: &mut Vec<u8>, text: &[u8]) {
    if !text.iter().any(|octet| matches!(octet, b',' | b'"' | b'\n' | b'\r')) {
        out.extend_from_slice(text);
        return;
    }
    out.push(b'"');
    for &octet in text {
        if octet == b'"' {
            out.push(b'"');
        }
        out.push(octet);
    }
    out.push(b'"');
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_text_of_others_is_a_formula() {
        for (text, wanted) in [
            ("=1+2", "\\x3d1+2"),
            ("+1", "\\x2b1"),
            ("-1", "\\x2d1"),
            ("@SUM(A1,A2)", "\"\\x40SUM(A1,A2)\""),
            ("a=b", "a=b"),
            ("\t=1", "\\t=1"),
            ("", ""),
        ] {
            let mut out = Vec::new();
            foreign(&mut out, text.as_bytes());
            assert_eq!(String::from_utf8(out).unwrap(), wanted);
        }
    }
}
