//! Cuts the octets of each port and direction at delimiters, so that what lies between two cuts can be split on its own.

use super::work::{Entry, Work};
use crate::{
    endpoint::{Direction, FramingName, Wiring},
    report::parts::{LONGEST, Whence, delimiter},
};

/// What is left of one port and direction after the last delimiter.
#[derive(Debug, Default)]
struct Flow {
    carry: Vec<u8>,
    at: Option<u64>,
    /// The last span ended inside a candidate.
    inside: bool,
    used: bool,
}

/// Cuts flows at delimiters.
#[derive(Debug, Default)]
pub(super) struct Cutter {
    ports: Vec<[Flow; 2]>,
}

impl Cutter {
    fn flow(&mut self, port: u16, direction: Direction) -> &mut Flow {
        let index = usize::from(port);
        if self.ports.len() <= index {
            self.ports.resize_with(index + 1, Default::default);
        }
        &mut self.ports[index][direction as usize]
    }

    /// Takes octets; what is complete goes into the work.
    pub(super) fn chunk(&mut self, whence: Whence, wiring: Wiring, octets: &[u8], work: &mut Work) {
        work.took(whence.at, octets.len());
        let flow = self.flow(whence.port, whence.direction);
        flow.used = true;
        flow.at = whence.at;
        let Some(delimiter) = delimiter(wiring.framing) else {
            work.span(whence, wiring, [octets, &[]], false);
            return;
        };
        match memchr::memrchr(delimiter, octets) {
            Some(last) => {
                let (whole, rest) = octets.split_at(last + 1);
                work.span(whence, wiring, [&flow.carry, whole], flow.inside);
                flow.carry.clear();
                flow.carry.extend_from_slice(rest);
                flow.inside = false;
            }
            None => flow.carry.extend_from_slice(octets),
        }
        // A candidate longer than any frame: the reader's state must go from span to span until its delimiter comes.
        if flow.carry.len() > LONGEST || flow.inside {
            work.span(whence, wiring, [&flow.carry, &[]], true);
            flow.carry.clear();
            flow.inside = true;
        }
    }

    /// The flows of a port end: what is left of them goes into the work.
    pub(super) fn end(&mut self, port: u16, wiring: Wiring, work: &mut Work) {
        for direction in [Direction::In, Direction::Out] {
            let flow = self.flow(port, direction);
            if !std::mem::take(&mut flow.used) {
                continue;
            }
            let whence = Whence { at: flow.at, port, direction };
            if wiring.framing != FramingName::Datagram {
                work.span(whence, wiring, [&flow.carry, &[]], true);
            }
            flow.carry.clear();
            flow.inside = false;
            work.entries.push(Entry::End(whence, wiring));
        }
    }

    /// Ports that were used, for the end of the input.
    pub(super) fn ports(&self) -> u16 {
        u16::try_from(self.ports.len()).unwrap_or(u16::MAX)
    }
}
