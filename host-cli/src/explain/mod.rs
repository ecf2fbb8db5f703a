//! Octet by octet: what octets on the wire are, and what is the first thing wrong with them. For whoever writes a peer in another language.
//!
//! Written by itself from `core/WIRE.md`, a stage after the other: delimiters and stuffing, FCS, head, body, values. A fault does not end it: what can
//! still be read is told as if the fault were not there.

mod air;
mod body;
mod crcs;
mod head;
mod stuffing;

use crate::{
    endpoint::{FcsName, FramingName, Wiring},
    messages::Table,
};

/// What some octets are.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Part {
    /// Place on the wire of the first of them, from 0.
    pub at: usize,
    /// The octets, without stuffing.
    pub octets: Vec<u8>,
    /// What they are.
    pub what: String,
}

/// Something that is wrong.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Wrong {
    /// Place on the wire, from 0.
    pub at: usize,
    /// The rule of the wire text, for instance `W-11`; empty where the wire allows it and the agreement does not.
    pub rule: &'static str,
    /// What is wrong, and what would be right.
    pub what: String,
}

/// All that can be told of some octets.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Explained {
    /// What they are, in the order of the wire.
    pub parts: Vec<Part>,
    /// What is wrong: what a receiver would find first stands first.
    pub wrong: Vec<Wrong>,
    /// Frames that were found, good or bad.
    pub frames: usize,
}

/// A frame without its stuffing: each octet and its place on the wire.
type Frame = Vec<(usize, u8)>;

impl Explained {
    /// Explains octets as they go over the wire.
    #[must_use]
    pub fn new(octets: &[u8], wiring: Wiring, table: &Table) -> Self {
        let mut told = Self::default();
        let delimiter = match wiring.framing {
            FramingName::Cobs | FramingName::RadioBoard => Some(0x00),
            FramingName::OctetStuffing => Some(0x7E),
            FramingName::Slip => Some(0xC0),
            FramingName::Datagram => None,
        };
        let mut start = 0;
        for (at, &octet) in octets.iter().enumerate() {
            if Some(octet) == delimiter {
                told.candidate(octets, start..at, wiring, table);
                told.part(at, &[octet], "delimiter");
                start = at + 1;
            }
        }
        if start < octets.len() {
            told.candidate(octets, start..octets.len(), wiring, table);
            if let Some(delimiter) = delimiter {
                told.wrong(octets.len(), "W-1", format!("the closing delimiter {delimiter:02X} is missing"));
            }
        }
        if told.frames == 0 && !octets.is_empty() {
            told.wrong(0, "W-2", "delimiters alone: silence, no frame");
        }
        told.parts.sort_by_key(|part| part.at);
        told
    }

    fn candidate(&mut self, octets: &[u8], range: std::ops::Range<usize>, wiring: Wiring, table: &Table) {
        let candidate = octets.get(range.clone()).unwrap_or_default();
        if candidate.is_empty() {
            return;
        }
        self.frames += 1;
        let frame = stuffing::remove(candidate, range.start, wiring, self);
        if wiring.framing == FramingName::RadioBoard {
            // The UART's own FCS, then the datagram with that of the air.
            let Some(frame) = crcs::check(frame, FcsName::Bits16, self) else { return };
            match air::explain(frame, self) {
                Ok(None) => {}
                Ok(Some(datagram)) => {
                    let Some(frame) = crcs::check(datagram, wiring.fcs, self) else { return };
                    head::explain(&frame, true, table, self);
                }
                Err(other) => head::explain(&other, false, table, self),
            }
            return;
        }
        let Some(frame) = crcs::check(frame, wiring.fcs, self) else { return };
        head::explain(&frame, wiring.framing.is_unordered(), table, self);
    }

    fn part(&mut self, at: usize, octets: &[u8], what: impl Into<String>) {
        self.parts.push(Part { at, octets: octets.to_vec(), what: what.into() });
    }

    fn wrong(&mut self, at: usize, rule: &'static str, what: impl Into<String>) {
        self.wrong.push(Wrong { at, rule, what: what.into() });
    }
}

#[cfg(test)]
mod tests;
