//! Records as comma-separated values (RFC 4180), one row each, the same columns for all.

use super::{
    Frame, Record, Render, Stamp, Start,
    put::{decimal, escaped, hex, moment, put, seconds},
    text::values_text,
    words,
};
use crate::{endpoint::Direction, messages::Table};
use bellwire::frame::{Kind, Open};
use std::sync::Arc;

/// The columns.
pub(super) const HEAD: &str = "record,at,seconds,port,direction,place,wire,kind,number,sending,next,held,message,name,\
values,octets,text\n";

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

    /// All columns from `wire` on.
    fn frame(&self, frame: &Frame<'_>, out: &mut Vec<u8>) {
        let header = &frame.header;
        out.push(b',');
        decimal(out, frame.wire);
        out.push(b',');
        put(out, header.kind.name());
        out.push(b',');
        if header.kind.is_numbered() {
            decimal(out, header.number);
        }
        out.push(b',');
        decimal(out, frame.sending);
        out.push(b',');
        if let Some(ack) = header.ack {
            decimal(out, ack.next);
            out.push(b',');
            if let Some(held) = ack.held {
                decimal(out, held);
            }
        } else {
            out.push(b',');
        }
        let mut text = String::new();
        if let Some(class) = header.kind.class() {
            self.message(class, &frame.payload, out);
        } else {
            put(out, ",,,");
            text = match header.kind {
                Kind::Open => Open::parse(&frame.payload)
                    .map_or_else(|_| String::new(), |open| super::text::describe_open(&open)),
                Kind::Extended => super::text::describe_extended(header.extension, &frame.payload),
                _ => String::new(),
            };
        }
        out.push(b',');
        hex(out, &frame.payload);
        out.push(b',');
        cell(out, text.as_bytes());
        out.push(b'\n');
    }

    /// `,message,name,values`
    fn message(&self, class: bellwire::frame::Class, payload: &[u8], out: &mut Vec<u8>) {
        let Some(number) = words::message_number(payload) else {
            put(out, ",,,");
            return;
        };
        out.push(b',');
        decimal(out, number);
        out.push(b',');
        let Some(kind) = self.table.get(number) else {
            out.push(b',');
            return;
        };
        cell(out, kind.name.as_bytes());
        out.push(b',');
        if let Some((_, values)) = self.table.read(class, payload) {
            let mut text = Vec::new();
            values_text(values, &mut text);
            cell(out, text.trim_ascii());
        }
    }
}

impl Render for Csv {
    fn head(&self, out: &mut Vec<u8>) {
        put(out, HEAD);
    }

    fn record(&self, record: &Record<'_>, out: &mut Vec<u8>) {
        put(out, record.name());
        match record {
            Record::Frame(frame) => {
                self.stamp(&frame.stamp, out);
                self.frame(frame, out);
            }
            Record::Reject(refusal) => {
                self.stamp(&refusal.stamp, out);
                out.push(b',');
                decimal(out, refusal.wire);
                put(out, ",,,,,,,,,");
                hex(out, &refusal.octets);
                out.push(b',');
                cell(out, refusal.reject.to_string().as_bytes());
                out.push(b'\n');
            }
            Record::Text(text) => {
                self.stamp(&text.stamp, out);
                put(out, ",,,,,,,,,,,");
                let mut shown = Vec::new();
                escaped(&mut shown, &text.octets);
                cell(out, &shown);
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
    cell(out, text.as_bytes());
    out.push(b'\n');
}

/// Appends a cell, quoted where it must be.
fn cell(out: &mut Vec<u8>, text: &[u8]) {
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
