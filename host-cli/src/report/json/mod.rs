//! Records as JSON, one object a line. The fields are described in `host-cli/RECORDS.md`.

#[macro_use]
mod field;
mod beyond;
mod event;
mod opening;
mod sum;
#[cfg(test)]
mod tests;

use self::{
    beyond::write_beyond,
    field::{array, list, string, write_value},
    opening::write_open,
    sum::write_sum,
};
use super::{
    Aired, Frame, Record, Render, Stamp, Start,
    put::{hex, moment, put, seconds},
    relayed,
    slab::{Phrase, Slab},
    words::{self, hearing},
};
use crate::{endpoint::Direction, messages::Table};
use bellwire::{
    frame::{Class, Header, Kind, Open, Reject},
    radio::Hearing,
    star::Relayed,
};
use std::sync::Arc;

/// Records as JSON lines.
#[derive(Debug)]
pub(super) struct Json {
    table: Arc<Table>,
    start: Arc<Start>,
}

impl Json {
    pub(super) const fn new(table: Arc<Table>, start: Arc<Start>) -> Self {
        Self { table, start }
    }

    fn time(&self, at: Option<u64>, out: &mut Vec<u8>) {
        if let Some(at) = at {
            out.extend_from_slice(b",\"at\":\"");
            moment(out, at);
            out.push(b'"');
            key!(out, "seconds");
            seconds(out, at.saturating_sub(self.start.get(at)), 9);
        }
    }

    fn stamp(&self, stamp: &Stamp, out: &mut Vec<u8>) {
        self.time(stamp.at, out);
        number!(out, "port", stamp.port);
        word!(out, "direction", direction(stamp.direction));
        number!(out, "place", stamp.place);
    }

    /// Most frames by far are messages with nothing in their head but kind, session and number: all but the values of such a frame
    /// at once. Gives `false`, and has done nothing, for others; a test holds both ways to each other.
    fn plain(&self, frame: &Frame<'_>, out: &mut Vec<u8>) -> bool {
        let Header { kind, session, tag: None, addresses: None, ack: None, number, .. } = frame.header else {
            return false;
        };
        let (Some(class), 1) = (kind.class(), frame.sending) else { return false };
        let Some(message) = words::message_number(&frame.payload) else { return false };
        let table = self.table.of(frame.agreement);
        let is_known = table.is_some_and(|table| table.get(message).is_some());
        let head = |slab: &mut Slab<'_>| {
            if frame.stamp.at.is_none() && frame.stamp.port == 0 {
                slab.phrase(&UNTIMED[frame.stamp.direction as usize]);
            } else {
                slab.put(b"{\"record\":\"frame\"");
                if let Some(at) = frame.stamp.at {
                    slab.put(b",\"at\":\"");
                    slab.moment(at);
                    slab.put(b"\",\"seconds\":");
                    slab.seconds(at.saturating_sub(self.start.get(at)));
                }
                slab.put(b",\"port\":");
                slab.small(frame.stamp.port.into());
                match frame.stamp.direction {
                    Direction::In => slab.put(b",\"direction\":\"in\",\"place\":"),
                    Direction::Out => slab.put(b",\"direction\":\"out\",\"place\":"),
                }
            }
            slab.decimal(frame.stamp.place);
            slab.put(b",\"wire\":");
            slab.small(frame.wire.into());
            slab.phrase(&KINDS[kind as usize - 1]);
            slab.put(&[b'0' + (session & 3)]);
            slab.put(b",\"number\":");
            slab.small(number.into());
            slab.put(b",\"message\":");
            slab.small(message.into());
        };
        let tail = |slab: &mut Slab<'_>| {
            slab.put(b",\"payload\":\"");
            slab.hex(&frame.payload);
            slab.put(b"\"}\n");
        };
        let octets = 2 * frame.payload.len();
        if is_known {
            Slab::append(out, 256, head);
            values(table, class, message, &frame.payload, out);
            Slab::append(out, 32 + octets, tail);
        } else {
            Slab::append(out, 208 + if frame.stamp.at.is_some() { 64 } else { 0 } + octets, |slab| {
                head(slab);
                tail(slab);
            });
        }
        true
    }

    fn frame(&self, frame: &Frame<'_>, out: &mut Vec<u8>) {
        let header = &frame.header;
        number!(out, "wire", frame.wire);
        word!(out, "kind", header.kind.name());
        if header.kind.in_session() {
            number!(out, "session", header.session);
        }
        if let Some(tag) = header.tag {
            number!(out, "tag", tag);
        }
        if let Some(addresses) = header.addresses {
            number!(out, "to", addresses.to);
            number!(out, "from", addresses.from);
        }
        if header.kind.is_numbered() {
            number!(out, "number", header.number);
        }
        if frame.sending > 1 {
            number!(out, "sending", frame.sending);
        }
        if let Some(ack) = header.ack {
            number!(out, "next", ack.next);
            if let Some(held) = ack.held {
                number!(out, "held", held);
            }
        }
        match header.kind {
            Kind::Open => {
                if let Ok(open) = Open::parse(&frame.payload) {
                    write_open(&open, out);
                }
            }
            Kind::Extended => {
                if let Some(extension) = header.extension {
                    word!(out, "extension", extension.name());
                }
            }
            kind => {
                if let Some(class) = kind.class() {
                    message(self.table.of(frame.agreement), class, &frame.payload, out);
                }
            }
        }
        if let Some(relayed) = relayed::relayed(frame) {
            write_relayed(&relayed, out);
        }
        if let Some(hearing) = hearing(frame) {
            write_hearing(&hearing, out);
        }
        write_aired(frame.aired, out);
        if header.kind != Kind::Ack {
            key!(out, "payload");
            out.push(b'"');
            hex(out, &frame.payload);
            out.push(b'"');
        }
    }
}

fn message(table: Option<&Table>, class: Class, payload: &[u8], out: &mut Vec<u8>) {
    let Some(number) = words::message_number(payload) else {
        put(out, ",\"void\":true");
        return;
    };
    number!(out, "message", number);
    values(table, class, number, payload, out);
}

/// Name, values and units of a message that the table knows.
fn values(table: Option<&Table>, class: Class, number: u16, payload: &[u8], out: &mut Vec<u8>) {
    let Some((table, kind)) = table.and_then(|table| Some((table, table.get(number)?))) else { return };
    key!(out, "name");
    string(out, kind.name.as_bytes());
    let Some((_, values)) = table.read(class, payload) else { return };
    key!(out, "values");
    list(out, values.clone(), |out, (field, value)| {
        string(out, field.name.as_bytes());
        out.push(b':');
        write_value(&value, out);
    });
    key!(out, "units");
    list(out, values.clone().filter(|(field, _)| !field.unit.is_empty()), |out, (field, _)| {
        string(out, field.name.as_bytes());
        out.push(b':');
        string(out, field.unit.as_bytes());
    });
    if kind.fields.iter().any(|field| field.range.is_some()) {
        let mut outside = values.filter(|(field, value)| !field.allows(value)).peekable();
        if outside.peek().is_some() {
            key!(out, "out_of_range");
            array(out, outside, |out, (field, _)| string(out, field.name.as_bytes()));
        }
    }
}

impl Render for Json {
    fn record(&self, record: &Record<'_>, out: &mut Vec<u8>) {
        if let Record::Frame(frame) = record
            && self.plain(frame, out)
        {
            return;
        }
        self.any(record, out);
    }
}

/// The kinds with what stands around them.
const KINDS: [Phrase<32>; Kind::ALL.len()] = Phrase::of_kinds(",\"kind\":\"", "\",\"session\":");

/// How a line begins for port 0 where there are no times.
const UNTIMED: [Phrase<64>; 2] = [
    Phrase::new(&["{\"record\":\"frame\",\"port\":0,\"direction\":\"in\",\"place\":"]),
    Phrase::new(&["{\"record\":\"frame\",\"port\":0,\"direction\":\"out\",\"place\":"]),
];

impl Json {
    /// Any record.
    fn any(&self, record: &Record<'_>, out: &mut Vec<u8>) {
        put(out, "{\"record\":\"");
        put(out, record.name());
        out.push(b'"');
        if let Some(stamp) = record.stamp() {
            self.stamp(stamp, out);
        }
        match record {
            Record::Frame(frame) => self.frame(frame, out),
            Record::Reject(refusal) => {
                number!(out, "wire", refusal.wire);
                write_aired(refusal.aired, out);
                if let Some(beyond) = refusal.beyond() {
                    write_beyond(&beyond, out);
                    put(out, "}\n");
                    return;
                }
                reject(refusal.reject, out);
                key!(out, "octets");
                out.push(b'"');
                hex(out, &refusal.octets);
                out.push(b'"');
            }
            Record::Text(text) => {
                key!(out, "text");
                string(out, &text.octets);
                if let Some(hint) = text.hint {
                    word!(out, "hint", words::hint(hint));
                }
            }
            Record::Event(event) => self.event(event, out),
            Record::Gap(gap) => {
                self.time(Some(gap.from), out);
                number!(out, "port", gap.port);
                if let Some(to) = gap.to {
                    key!(out, "lasted");
                    seconds(out, to.saturating_sub(gap.from), 9);
                }
                key!(out, "text");
                string(out, gap.why.as_bytes());
            }
            Record::Note(note) => {
                self.time(note.at, out);
                if let Some(port) = note.port {
                    number!(out, "port", port);
                }
                key!(out, "text");
                string(out, note.text.as_bytes());
            }
            Record::Sum(sum) => write_sum(sum, out),
        }
        put(out, "}\n");
    }
}

/// What travels by way of the hub (W-68).
fn write_relayed(relayed: &Relayed<'_>, out: &mut Vec<u8>) {
    put(out, ",\"relayed\":{\"other\":");
    put(out, &relayed.other.to_string());
    number!(out, "name", relayed.name);
    if let Some(outcome) = relayed::outcome(relayed) {
        word!(out, "outcome", outcome);
    }
    out.push(b'}');
}

/// What a board tells of what it hears (W-66).
fn write_hearing(hearing: &Hearing, out: &mut Vec<u8>) {
    put(out, ",\"hearing\":{\"sent\":");
    put(out, &hearing.sent.to_string());
    number!(out, "heard", hearing.heard);
    if let Some(age) = hearing.age {
        number!(out, "age", age);
    }
    if let Some(dbm) = hearing.strength {
        key!(out, "strength");
        put(out, &dbm.to_string());
    }
    out.push(b'}');
}

/// What a radio board told.
fn write_aired(aired: Option<Aired>, out: &mut Vec<u8>) {
    match aired {
        None => {}
        Some(Aired::Out) => word!(out, "air", "out"),
        Some(Aired::Heard { at, strength }) => {
            word!(out, "air", "heard");
            number!(out, "board_us", at);
            if let Some(dbm) = strength {
                key!(out, "strength");
                put(out, &dbm.to_string());
            }
        }
    }
}

const fn direction(direction: Direction) -> &'static str {
    match direction {
        Direction::In => "in",
        Direction::Out => "out",
    }
}

fn reject(reject: Reject, out: &mut Vec<u8>) {
    word!(out, "rule", reject.rule());
    word!(out, "name", reject.name());
    word!(out, "reason", reject.reason());
}
