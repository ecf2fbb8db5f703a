//! A breadth-first explorer of two real links, a wire or a radio between them, and the programs around them. `WRONG.md` says what it must find.
#![allow(dead_code, unreachable_pub, missing_docs)]

mod act;
mod books;
mod breach;
mod case;
pub mod cases;
mod diary;
mod dome;
mod heal;
mod play;
mod runs;
mod search;
mod sight;
mod world;
pub mod wrong;

use bellwire::framing::{Cobs, Datagram};
pub use breach::{Breach, Property};
pub use case::{Case, WrongWorld};
pub use search::{Found, Limits};

/// The channel between the boards.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Channel {
    /// Keeps order, doubles nothing (COBS).
    Wire,
    /// Frames are doubled and overtake (datagrams).
    Radio,
}

/// A case on a channel with a window.
#[derive(Debug, Clone, Copy)]
pub struct Run {
    pub channel: Channel,
    pub window: usize,
    pub case: Case,
}

impl Run {
    pub const fn wire(window: usize, case: Case) -> Self {
        Self { channel: Channel::Wire, window, case }
    }

    pub const fn radio(window: usize, case: Case) -> Self {
        Self { channel: Channel::Radio, window, case }
    }

    pub fn explore(&self, limits: Limits) -> Found {
        let case: &'static Case = Box::leak(Box::new(self.case));
        match (self.channel, self.window) {
            (Channel::Wire, 1) => search::explore::<Cobs, 1>(case, limits),
            (Channel::Wire, 2) => search::explore::<Cobs, 2>(case, limits),
            (Channel::Wire, 3) => search::explore::<Cobs, 3>(case, limits),
            (Channel::Radio, 1) => search::explore::<Datagram, 1>(case, limits),
            (Channel::Radio, 2) => search::explore::<Datagram, 2>(case, limits),
            (Channel::Radio, 3) => search::explore::<Datagram, 3>(case, limits),
            (_, window) => panic!("no window of {window}"),
        }
    }

    /// One row: what was explored, how much, how far, in what time.
    pub fn row(&self, found: &Found) -> String {
        let Found { states, steps, depth, complete, rounds, seconds, .. } = found;
        let channel = if self.channel == Channel::Wire { "wire" } else { "radio" };
        let extent = if *complete { "complete" } else { "cut" };
        format!(
            "{channel:<5} W{} {:<42} {states:>9} states {steps:>10} steps depth {depth:>3} {extent:<8} heals in {rounds:>2} {seconds:>6.1} s, omission {}",
            self.window,
            self.case.name,
            odds(*states)
        )
    }
}

/// An upper bound of the odds that two of so many states have the same fingerprint of 128 bits: n^2 / 2^129.
fn odds(states: usize) -> String {
    let bits = 2 * (usize::BITS - states.leading_zeros());
    format!("< 2^-{}", 129 - bits)
}
