//! Records as JSON, one object a line. The fields are described in `host-cli/RECORDS.md`.

use super::{
    Frame, Record, Render, Stamp, Start, Sum, What,
    put::{decimal, hex, moment, put, seconds},
    words,
};
use crate::{
    endpoint::Direction,
    messages::{Table, Value},
};
use bellwire::frame::{Class, Kind, Open, Reject};
use std::sync::Arc;

/// Records as JSON lines.
#[derive(Debug)]
pub(super) struct Json {
    table: Arc<Table>,
    start: Arc<Start>,
}

/// Appends `,"key":`.
macro_rules! key {
    ($out:expr, $key:literal) => {
        $out.extend_from_slice(concat!(",\"", $key, "\":").as_bytes())
    };
}

/// Appends `,"key":` and a whole number.
macro_rules! number {
    ($out:expr, $key:literal, $value:expr) => {{
        key!($out, $key);
        decimal($out, $value);
    }};
}

/// Appends `,"key":` and a word that needs no escaping.
macro_rules! word {
    ($out:expr, $key:literal, $value:expr) => {{
        $out.extend_from_slice(concat!(",\"", $key, "\":\"").as_bytes());
        put($out, $value);
        $out.push(b'"');
    }};
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
                    self.message(class, &frame.payload, out);
                }
            }
        }
        if header.kind != Kind::Ack {
            key!(out, "payload");
            out.push(b'"');
            hex(out, &frame.payload);
            out.push(b'"');
        }
    }

    fn message(&self, class: Class, payload: &[u8], out: &mut Vec<u8>) {
        let Some(number) = words::message_number(payload) else {
            put(out, ",\"void\":true");
            return;
        };
        number!(out, "message", number);
        let Some(kind) = self.table.get(number) else { return };
        key!(out, "name");
        string(out, kind.name.as_bytes());
        let Some((_, values)) = self.table.read(class, payload) else { return };
        key!(out, "values");
        list(out, values.clone(), |out, (field, value)| {
            string(out, field.name.as_bytes());
            out.push(b':');
            write_value(&value, out);
        });
        key!(out, "units");
        list(out, values.filter(|(field, _)| !field.unit.is_empty()), |out, (field, _)| {
            string(out, field.name.as_bytes());
            out.push(b':');
            string(out, field.unit.as_bytes());
        });
    }

    fn event(&self, what: &What, out: &mut Vec<u8>) {
        word!(out, "event", words::event_word(what));
        match *what {
            What::Opened { session, window, max_payload, identity_in, identity_out } => {
                number!(out, "session", session);
                number!(out, "window", window);
                number!(out, "max_payload", max_payload);
                word!(out, "identity_in", &format!("{identity_in:016x}"));
                word!(out, "identity_out", &format!("{identity_out:016x}"));
            }
            What::Restarted { cause } => word!(out, "cause", cause.reason()),
            What::Differs { fingerprint_in, fingerprint_out, version_in, version_out } => {
                word!(out, "fingerprint_in", &format!("{fingerprint_in:08x}"));
                word!(out, "fingerprint_out", &format!("{fingerprint_out:08x}"));
                number!(out, "version_in", version_in);
                number!(out, "version_out", version_out);
            }
            What::SessionUnseen { session } | What::OtherSession { session } => {
                number!(out, "session", session);
            }
            What::Delivered { class, number, message, sendings, after } => {
                word!(out, "class", class.name());
                number!(out, "number", number);
                self.name(message, out);
                number!(out, "sendings", sendings);
                span(out, after);
            }
            What::Missing { class, first, count } => {
                word!(out, "class", words::missing_class(class));
                number!(out, "first", first);
                number!(out, "count", count);
            }
            What::GivenUp { number, message } => {
                number!(out, "number", number);
                self.name(message, out);
            }
            What::ProbeAnswered { id, after } => {
                number!(out, "id", id);
                span(out, after);
            }
            What::Silent { lasted } => span(out, Some(lasted)),
            What::Ended | What::Own { .. } => {}
        }
        key!(out, "text");
        string(out, words::event(what, &self.table, words::SIDES).as_bytes());
    }

    fn name(&self, message: Option<u16>, out: &mut Vec<u8>) {
        if let Some(number) = message {
            number!(out, "message", number);
            if let Some(kind) = self.table.get(number) {
                key!(out, "name");
                string(out, kind.name.as_bytes());
            }
        }
    }
}

impl Render for Json {
    fn record(&self, record: &Record<'_>, out: &mut Vec<u8>) {
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
            Record::Event(event) => self.event(&event.what, out),
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

const fn direction(direction: Direction) -> &'static str {
    match direction {
        Direction::In => "in",
        Direction::Out => "out",
    }
}

fn span(out: &mut Vec<u8>, ns: Option<u64>) {
    if let Some(ns) = ns {
        key!(out, "after");
        seconds(out, ns, 9);
    }
}

fn reject(reject: Reject, out: &mut Vec<u8>) {
    word!(out, "rule", reject.rule());
    word!(out, "name", reject.name());
    word!(out, "reason", reject.reason());
}

/// Appends a JSON object made of the items.
fn list<T>(out: &mut Vec<u8>, items: impl Iterator<Item = T>, mut write: impl FnMut(&mut Vec<u8>, T)) {
    out.push(b'{');
    let mut first = true;
    for item in items {
        if !std::mem::take(&mut first) {
            out.push(b',');
        }
        write(out, item);
    }
    out.push(b'}');
}

fn write_value(value: &Value<'_>, out: &mut Vec<u8>) {
    match value {
        // JSON has no words for these; the plain words of Rust go into a string.
        Value::Float(number) if !number.is_finite() => string(out, number.to_string().as_bytes()),
        Value::Number { .. } | Value::Float(_) | Value::Bool(_) => value.write_plain(out),
        Value::Word(text) | Value::Text(text) => string(out, text.as_bytes()),
    }
}

/// Appends a JSON string (RFC 8259 section 7); what is not UTF-8 becomes U+FFFD.
fn string(out: &mut Vec<u8>, text: &[u8]) {
    out.push(b'"');
    for piece in text.utf8_chunks() {
        for &octet in piece.valid().as_bytes() {
            match octet {
                b'"' => put(out, "\\\""),
                b'\\' => put(out, "\\\\"),
                b'\n' => put(out, "\\n"),
                b'\r' => put(out, "\\r"),
                b'\t' => put(out, "\\t"),
                0x00..=0x1F | 0x7F => put(out, &format!("\\u{octet:04x}")),
                _ => out.push(octet),
            }
        }
        if !piece.invalid().is_empty() {
            put(out, "\u{FFFD}");
        }
    }
    out.push(b'"');
}

fn write_open(open: &Open, out: &mut Vec<u8>) {
    number!(out, "version", open.version);
    let truth = |set: bool| if set { "true" } else { "false" };
    key!(out, "ask");
    put(out, truth(open.ask));
    key!(out, "numberless");
    put(out, truth(open.numberless));
    word!(out, "cause", open.cause.reason());
    number!(out, "mine", open.mine);
    if let Some(echo) = open.echo {
        number!(out, "echo", echo);
    }
    number!(out, "window", open.window);
    number!(out, "max_payload", open.max_payload);
    word!(out, "fingerprint", &format!("{:08x}", open.fingerprint));
    number!(out, "silence_ms", u32::from(open.silence) * 100);
    word!(out, "identity", &format!("{:016x}", open.identity));
}

fn write_sum(sum: &Sum, out: &mut Vec<u8>) {
    if let Some((first, last)) = sum.span {
        put(out, ",\"first\":\"");
        moment(out, first);
        put(out, "\",\"last\":\"");
        moment(out, last);
        out.push(b'"');
    }
    number!(out, "octets", sum.octets);
    number!(out, "frames", sum.all_frames());
    key!(out, "kinds");
    let counts = |out: &mut Vec<u8>, (name, count): (&str, u64)| {
        string(out, name.as_bytes());
        out.push(b':');
        decimal(out, count);
    };
    list(out, Kind::ALL.iter().map(|kind| kind.name()).zip(sum.frames), counts);
    number!(out, "rejects", sum.all_rejects());
    key!(out, "reasons");
    let some =
        Reject::ALL.iter().map(|reject| reject.name()).zip(sum.rejects).filter(|(_, count)| *count > 0);
    list(out, some, counts);
    number!(out, "reject_octets", sum.reject_octets);
    number!(out, "text_octets", sum.text_octets);
    key!(out, "classes");
    list(out, Class::ALL.iter().zip(&sum.messages), |out, (class, counted)| {
        string(out, class.name().as_bytes());
        put(out, ":{\"new\":");
        decimal(out, counted.new);
        number!(out, "resent", counted.resent);
        number!(out, "missing", counted.missing);
        number!(out, "octets", counted.octets);
        out.push(b'}');
    });
    number!(out, "delivered", sum.delivered);
    number!(out, "given_up", sum.given_up);
    number!(out, "opened", sum.opened);
    number!(out, "restarts", sum.restarts);
    number!(out, "other_session", sum.other_session);
    number!(out, "gaps", sum.gaps);
    if let Some(shown) = sum.shown {
        number!(out, "shown", shown);
    }
    number!(out, "payload_octets", sum.payload_octets());
    if let Some(goodput) = sum.goodput() {
        key!(out, "goodput");
        put(out, &format!("{goodput:.1}"));
    }
    if let Some(mean) = sum.round_trip_mean() {
        number!(out, "round_trips", sum.round_trips);
        key!(out, "round_trip_mean");
        seconds(out, mean, 9);
        key!(out, "round_trip_min");
        seconds(out, sum.round_trip_min, 9);
        key!(out, "round_trip_max");
        seconds(out, sum.round_trip_max, 9);
    }
}
