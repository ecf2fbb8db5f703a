//! Records as JSON, one object a line. The fields are described in `host-cli/RECORDS.md`.

use super::{
    Frame, Record, Render, Stamp, Start, Sum, What,
    put::{decimal, hex, moment, put, seconds},
    slab::{Phrase, Slab},
    words,
};
use crate::{
    endpoint::Direction,
    messages::{Table, Value},
};
use bellwire::frame::{Class, Header, Kind, Open, Reject};
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

    /// Most frames by far are messages with nothing in their head but kind, session and number: all but the values of such a frame
    /// at once. Gives `false`, and has done nothing, for others; a test holds both ways to each other.
    fn plain(&self, frame: &Frame<'_>, out: &mut Vec<u8>) -> bool {
        let Header { kind, session, tag: None, addresses: None, ack: None, number, .. } = frame.header else {
            return false;
        };
        let (Some(class), 1) = (kind.class(), frame.sending) else { return false };
        let Some(message) = words::message_number(&frame.payload) else { return false };
        let is_known = self.table.get(message).is_some();
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
            self.values(class, message, &frame.payload, out);
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
        self.values(class, number, payload, out);
    }

    /// Name, values and units of a message that the table knows.
    fn values(&self, class: Class, number: u16, payload: &[u8], out: &mut Vec<u8>) {
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

#[cfg(test)]
mod tests {
    use super::*;
    use bellwire::frame::Ack;
    use bellwire_tests::seed;
    use proptest::prelude::*;
    use std::borrow::Cow;

    #[test]
    fn the_short_way_writes_what_the_long_way_writes() {
        let seed = seed("the_short_way_writes_what_the_long_way_writes");
        let json = Json::new(Arc::new(crate::observatory::table()), Arc::default());
        let _ = json.start.get(1_764_062_400_000_000_000);
        let place =
            prop_oneof![any::<u64>(), 0_u64..2000, (0_u32..20).prop_map(|n| 10_u64.pow(n) - n as u64 % 2)];
        let time = proptest::option::of(1_764_062_400_000_000_000..1_964_062_400_000_000_000_u64);
        let body = (0_u8..13, proptest::collection::vec(any::<u8>(), 0..20));
        let head = (0..Kind::ALL.len(), any::<u8>(), 0_u8..4, proptest::option::of(any::<u8>()));
        let strategy = (place, time, body, head, any::<u16>(), 0_u32..2000, any::<bool>());
        let result = seed.runner(2000).run(
            &strategy,
            |(place, at, (message, body), (kind, number, session, next), port, wire, out)| {
                let direction = if out { Direction::Out } else { Direction::In };
                let ack = next.filter(|next| next % 4 == 0).map(|next| Ack { next, held: None });
                let header = Header { number, session, ack, ..Header::new(Kind::ALL[kind]) };
                let payload = Cow::Owned([&[message][..], &body].concat());
                let stamp = Stamp { at, port, direction, place };
                let record =
                    Record::Frame(Frame { stamp, wire, header, payload, sending: 1 + u8::from(number == 7) });
                let (mut short, mut long) = (Vec::new(), Vec::new());
                json.record(&record, &mut short);
                json.any(&record, &mut long);
                prop_assert_eq!(String::from_utf8(short).unwrap(), String::from_utf8(long).unwrap());
                Ok(())
            },
        );
        result.unwrap();
    }
}
