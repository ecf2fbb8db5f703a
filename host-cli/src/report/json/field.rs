//! Fields of a JSON object.

use crate::{
    messages::{Value, flag_names},
    report::put::{put, seconds},
};

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
        $crate::report::put::decimal($out, $value);
    }};
}

/// Appends `,"key":` and a word that needs no escaping.
macro_rules! word {
    ($out:expr, $key:literal, $value:expr) => {{
        $out.extend_from_slice(concat!(",\"", $key, "\":\"").as_bytes());
        $crate::report::put::put($out, $value);
        $out.push(b'"');
    }};
}

pub(super) fn span(out: &mut Vec<u8>, ns: Option<u64>) {
    if let Some(ns) = ns {
        key!(out, "after");
        seconds(out, ns, 9);
    }
}

/// Appends a JSON object made of the items.
pub(super) fn list<T>(out: &mut Vec<u8>, items: impl Iterator<Item = T>, write: impl FnMut(&mut Vec<u8>, T)) {
    out.push(b'{');
    joined(out, items, write);
    out.push(b'}');
}

/// Appends a JSON array made of the items.
pub(super) fn array<T>(
    out: &mut Vec<u8>,
    items: impl Iterator<Item = T>,
    write: impl FnMut(&mut Vec<u8>, T),
) {
    out.push(b'[');
    joined(out, items, write);
    out.push(b']');
}

fn joined<T>(out: &mut Vec<u8>, items: impl Iterator<Item = T>, mut write: impl FnMut(&mut Vec<u8>, T)) {
    let mut first = true;
    for item in items {
        if !std::mem::take(&mut first) {
            out.push(b',');
        }
        write(out, item);
    }
}

pub(super) fn write_value(value: &Value<'_>, out: &mut Vec<u8>) {
    match value {
        // JSON has no words for these; the plain words of Rust go into a string.
        Value::Float(number) if !number.is_finite() => string(out, number.to_string().as_bytes()),
        Value::Double(number) if !number.is_finite() => string(out, number.to_string().as_bytes()),
        Value::Number(_) | Value::Float(_) | Value::Double(_) | Value::Bool(_) => value.write_plain(out),
        Value::Word(text) | Value::Text(text) => string(out, text.as_bytes()),
        Value::Flags(bits, names) => {
            array(out, flag_names(*bits, names), |out, name| string(out, name.as_bytes()));
        }
        Value::Octets(_) => {
            out.push(b'"');
            value.write_plain(out);
            out.push(b'"');
        }
        Value::List(values) => array(out, values.iter(), |out, value| write_value(value, out)),
        Value::Nothing => put(out, "null"),
    }
}

/// Appends a JSON string (RFC 8259 section 7); what is not UTF-8 becomes U+FFFD.
pub(super) fn string(out: &mut Vec<u8>, text: &[u8]) {
    out.push(b'"');
    for piece in text.utf8_chunks() {
        let mut rest = piece.valid().as_bytes();
        while let Some((&octet, after)) = rest.split_first() {
            rest = after;
            match octet {
                b'"' => put(out, "\\\""),
                b'\\' => put(out, "\\\\"),
                b'\n' => put(out, "\\n"),
                b'\r' => put(out, "\\r"),
                b'\t' => put(out, "\\t"),
                0x00..=0x1F | 0x7F => put(out, &format!("\\u{octet:04x}")),
                // U+0080 to U+009F are control characters, too, and mean something to some terminals.
                0xC2 if matches!(after, [0x80..=0x9F, ..]) => {
                    put(out, &format!("\\u{:04x}", after[0]));
                    rest = &after[1..];
                }
                _ => out.push(octet),
            }
        }
        if !piece.invalid().is_empty() {
            put(out, "\u{FFFD}");
        }
    }
    out.push(b'"');
}
