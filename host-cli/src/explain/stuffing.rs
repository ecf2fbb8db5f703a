//! Takes the stuffing off and remembers where each octet stood.

use super::{Explained, Frame};
use crate::endpoint::{FramingName, Wiring};

/// The frame in a candidate that begins at `base` on the wire.
pub(super) fn remove(candidate: &[u8], base: usize, wiring: Wiring, told: &mut Explained) -> Frame {
    match wiring.framing {
        FramingName::Cobs | FramingName::RadioBoard => cobs(candidate, base, told),
        FramingName::OctetStuffing => escaped(candidate, base, told, |octet| Some(octet ^ 0x20), 0x7D, "W-5"),
        FramingName::Slip => escaped(
            candidate,
            base,
            told,
            |octet| match octet {
                0xDC => Some(0xC0),
                0xDD => Some(0xDB),
                _ => None,
            },
            0xDB,
            "W-6",
        ),
        FramingName::Datagram => {
            candidate.iter().enumerate().map(|(at, &octet)| (base + at, octet)).collect()
        }
    }
}

/// Cheshire and Baker 1999: a code octet n, n-1 octets, and a zero unless n is 255 or the block is the last one.
fn cobs(candidate: &[u8], base: usize, told: &mut Explained) -> Frame {
    let mut frame = Frame::new();
    let (mut at, mut before) = (0, 0);
    while let Some(&code) = candidate.get(at) {
        let block = usize::from(code).saturating_sub(1);
        let end = at + 1 + block;
        let there = candidate.len() - at - 1;
        let is_last = end >= candidate.len();
        let then = if is_last {
            "the end"
        } else if code == 0xFF {
            "no zero"
        } else {
            "a zero"
        };
        let plural = if block == 1 { "octet" } else { "octets" };
        told.part(base + at, &[code], format!("COBS code: {block} {plural}, then {then}"));
        if block > there {
            let what = format!(
                "the code {code:02X} announces {block} {plural}, and {there} follow before the delimiter"
            );
            told.wrong(base + at, "W-3", what);
        }
        if code == 1 && before == 0xFF && is_last {
            told.wrong(base + at, "W-4", "after a block of 254 octets at the end no code 01 follows");
        }
        let octets = candidate.get(at + 1..end.min(candidate.len())).unwrap_or_default();
        frame.extend(octets.iter().enumerate().map(|(index, &octet)| (base + at + 1 + index, octet)));
        if !is_last && code != 0xFF {
            // The zero stands where the next code is.
            frame.push((base + end, 0));
        }
        before = code;
        at = end;
    }
    frame
}

fn escaped(
    candidate: &[u8],
    base: usize,
    told: &mut Explained,
    meant: impl Fn(u8) -> Option<u8>,
    escape: u8,
    rule: &'static str,
) -> Frame {
    let mut frame = Frame::new();
    let mut at = 0;
    while let Some(&octet) = candidate.get(at) {
        if octet != escape {
            frame.push((base + at, octet));
            at += 1;
            continue;
        }
        let next = candidate.get(at + 1).copied();
        match next.map(&meant) {
            Some(Some(octet)) => {
                told.part(base + at, &[escape], format!("escape: the next octet stands for {octet:02X}"));
                frame.push((base + at + 1, octet));
            }
            Some(None) => {
                told.part(base + at, &[escape], "escape");
                let what = format!("no escape stands before {:02X}", next.unwrap_or(0));
                told.wrong(base + at, rule, what);
            }
            None => {
                told.part(base + at, &[escape], "escape right before the delimiter");
                told.wrong(base + at, rule, "an escape right before the delimiter: the frame was broken off");
            }
        }
        at += 2;
    }
    frame
}
