//! Frames to lines with general-purpose crates: the same fields as `decode` writes.

use super::crates::Frame;
use serde::Serialize;
use std::{fmt::Write as _, io, io::Write};

const KINDS: [&str; 8] = ["reserved", "open", "errand", "report", "set-point", "ack", "notice", "extended"];

#[derive(Serialize)]
struct Line<'a> {
    record: &'a str,
    port: u16,
    direction: &'a str,
    place: u64,
    wire: usize,
    kind: &'a str,
    session: u8,
    number: u8,
    message: u8,
    payload: &'a str,
}

fn line<'a>(frame: &Frame<'_>, hex: &'a str) -> Line<'a> {
    Line {
        record: "frame",
        port: 0,
        direction: "in",
        place: frame.place,
        wire: frame.wire,
        kind: KINDS[usize::from(frame.control >> 5)],
        session: frame.control & 3,
        number: frame.number,
        message: frame.payload.first().copied().unwrap_or(0),
        payload: hex,
    }
}

fn hex(octets: &[u8], out: &mut String) {
    const DIGITS: &[u8; 16] = b"0123456789abcdef";
    out.clear();
    for octet in octets {
        out.push(char::from(DIGITS[usize::from(octet >> 4)]));
        out.push(char::from(DIGITS[usize::from(octet & 15)]));
    }
}

/// A derived struct through `serde_json`.
pub fn json(frame: &Frame<'_>, scratch: &mut String, out: &mut impl Write) -> io::Result<()> {
    hex(frame.payload, scratch);
    serde_json::to_writer(&mut *out, &line(frame, scratch))?;
    out.write_all(b"\n")
}

/// A `json!` value and `format!`.
pub fn json_naive(frame: &Frame<'_>, out: &mut impl Write) -> io::Result<()> {
    let mut payload = String::new();
    for octet in frame.payload {
        let _ = write!(payload, "{octet:02x}");
    }
    let line = line(frame, &payload);
    let value = serde_json::json!({
        "record": line.record, "port": line.port, "direction": line.direction, "place": line.place, "wire": line.wire,
        "kind": line.kind, "session": line.session, "number": line.number, "message": line.message, "payload": line.payload,
    });
    writeln!(out, "{value}")
}

/// The columns of `decode --csv` through `csv`.
pub fn csv(frame: &Frame<'_>, scratch: &mut String, out: &mut csv::Writer<impl Write>) -> io::Result<()> {
    hex(frame.payload, scratch);
    let Line { record, port, direction, place, wire, kind, number, message, payload, .. } =
        line(frame, scratch);
    let row = (record, "", "", port, direction, place, wire, kind, number, 1);
    out.serialize((row, "", "", message, "", "", payload, "", "", "", "")).map_err(io::Error::other)
}
