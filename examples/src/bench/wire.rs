//! Two wires between two UARTs.

use std::{collections::VecDeque, sync::MutexGuard, sync::PoisonError, time::Duration as StdDuration};

use bellwire::{
    io::{Line, Taken},
    time::Instant,
};

use super::{Bench, Halt, clock::instant};

/// Ten bits at 115 200 bits per second.
const OCTET_TIME: StdDuration = StdDuration::from_nanos(86_806);

/// Octets that the sending driver can hold.
const ROOM: usize = 64;

/// What is under way in one direction, each with the time it arrives.
#[derive(Debug, Default)]
pub(super) struct Lane {
    pub(super) octets: VecDeque<(StdDuration, u8)>,
    pub(super) datagrams: VecDeque<(StdDuration, Vec<u8>)>,
    /// When the sender's last octet has left.
    pub(super) free_at: StdDuration,
    /// Datagrams so far.
    pub(super) count: u32,
}

/// One board's end of the wires: its UART.
#[derive(Debug)]
pub struct Wire {
    bench: Bench,
    board: usize,
    since: StdDuration,
}

impl Wire {
    pub(super) fn new(bench: &Bench, board: usize) -> Self {
        // What came while the board was in reset is lost.
        let since = bench.turns.at(board);
        bench.lanes()[1 - board].octets.retain(|&(due, _)| due > since);
        Self { bench: bench.clone(), board, since }
    }
}

impl Bench {
    pub(super) fn lanes(&self) -> MutexGuard<'_, [Lane; 2]> {
        self.lanes.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Line for Wire {
    type Error = Halt;

    fn take(&mut self, now: Instant, into: &mut [u8]) -> Result<Taken, Halt> {
        self.bench.halt(self.board, self.since)?;
        let time = self.bench.turns.at(self.board);
        let mut lanes = self.bench.lanes();
        let lane = &mut lanes[1 - self.board].octets;
        while let Some(&(due, octet)) = lane.front().filter(|(due, _)| *due <= time) {
            lane.pop_front();
            if !self.bench.is_cut(due)
                && let Some(cell) = into.first_mut()
            {
                *cell = octet;
                return Ok(Taken { octets: 1, arrived: instant(due) });
            }
        }
        Ok(Taken { octets: 0, arrived: now })
    }

    fn put(&mut self, octets: &[u8]) -> Result<usize, Halt> {
        self.bench.halt(self.board, self.since)?;
        let room = ROOM.saturating_sub(self.unsent().unwrap_or_default()).min(octets.len());
        let time = self.bench.turns.at(self.board);
        let lane = &mut self.bench.lanes()[self.board];
        for &octet in octets.iter().take(room) {
            lane.free_at = lane.free_at.max(time) + OCTET_TIME;
            lane.octets.push_back((lane.free_at, octet));
        }
        Ok(room)
    }

    fn unsent(&self) -> Option<usize> {
        let waiting = self.bench.lanes()[self.board].free_at.saturating_sub(self.bench.turns.at(self.board));
        usize::try_from(waiting.as_nanos().div_ceil(OCTET_TIME.as_nanos())).ok()
    }
}
