//! The air between two radios.

use std::time::Duration as StdDuration;

use bellwire::{
    io::{Datagram, Medium, Received},
    time::Instant,
};

use super::{Bench, Halt, clock::instant};

/// An octet on the air, at 1000 octets per second.
const OCTET_TIME: StdDuration = StdDuration::from_millis(1);

/// What a datagram costs beside its octets.
const PREAMBLE: StdDuration = StdDuration::from_millis(8);

/// How strong each datagram is received, dBm.
const STRENGTH: i16 = -93;

/// One board's radio.
#[derive(Debug)]
pub struct Air {
    bench: Bench,
    board: usize,
    since: StdDuration,
}

impl Air {
    pub(super) fn new(bench: &Bench, board: usize) -> Self {
        Self { bench: bench.clone(), board, since: bench.turns.at(board) }
    }
}

impl Datagram for Air {
    type Error = Halt;

    fn send(&mut self, datagram: &[u8]) -> Result<Medium, Halt> {
        self.bench.halt(self.board, self.since)?;
        if self.medium() == Medium::Busy {
            return Ok(Medium::Busy);
        }
        let octets = u32::try_from(datagram.len()).unwrap_or(u32::MAX);
        let due = self.bench.turns.at(self.board) + PREAMBLE + OCTET_TIME * octets;
        let lane = &mut self.bench.lanes()[self.board];
        lane.free_at = due;
        lane.count += 1;
        let each = self.bench.plan.lose_each;
        if each == 0 || !lane.count.is_multiple_of(each) {
            lane.datagrams.push_back((due, datagram.to_vec()));
        }
        Ok(Medium::Free)
    }

    fn receive(&mut self, _now: Instant, into: &mut [u8]) -> Result<Option<Received>, Halt> {
        self.bench.halt(self.board, self.since)?;
        let time = self.bench.turns.at(self.board);
        let lane = &mut self.bench.lanes()[1 - self.board].datagrams;
        if lane.front().is_none_or(|(due, _)| *due > time) {
            return Ok(None);
        }
        Ok(lane.pop_front().map(|(due, datagram)| {
            into.iter_mut().zip(&datagram).for_each(|(cell, octet)| *cell = *octet);
            Received { octets: datagram.len(), arrived: instant(due), strength: Some(STRENGTH) }
        }))
    }

    fn medium(&self) -> Medium {
        let free_at = self.bench.lanes()[self.board].free_at;
        if free_at > self.bench.turns.at(self.board) { Medium::Busy } else { Medium::Free }
    }
}
