//! A whole star in virtual time: the core's hub at a desk, an ordinary link at each leaf (some of which sleep deeply between their reports and keep 16 octets of it), a faulty line each way between them, and restarts
//! of any board at random times. Every message is booked.
//!
//! Leaves report; the desk writes letters (errands and set-points) into a mailbox for each leaf, and hands them to the hub while the leaf is there. At last
//! the faults stop, nothing new is sent, all settles, and the books of both ways of every leaf must balance (promise P3 of the wire), the letters too.

mod board;
mod desk;
mod leaf;
mod letters;
mod run;
mod sleeper;

pub use letters::Letters;
pub use run::run;

use bellwire_cli::sim::{Balance, Carries, Faults, Setup};
use core::{sync::atomic::AtomicU64, time::Duration};
use std::sync::Arc;

/// The most leaves.
pub const LEAVES: usize = 250;
/// Messages that wait or are under way at the hub, for all leaves together: few, so that they run out.
pub const POOL: usize = 64;
/// Of those, for one leaf.
pub const QUEUE: u8 = 3;
/// Letters that wait for one leaf.
pub const BOX: usize = 4;

/// What the lines carry.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Medium {
    /// Octets in order, COBS.
    Wire,
    /// Datagrams, which may be doubled and overtaken.
    Radio,
}

/// What a star is made of.
#[derive(Debug, Clone)]
pub struct Make {
    /// What the lines carry.
    pub medium: Medium,
    /// Leaves, 1..=250.
    pub leaves: u8,
    /// Of these, the last so many sleep deeply between their reports.
    pub sleepers: u8,
    /// How often one of them has gone on from what it kept.
    pub naps: Arc<AtomicU64>,
    /// Reports of each leaf.
    pub reports: u64,
    /// The mean pause between two reports of a leaf.
    pub pause: Duration,
    /// The mean pause between two letters of the desk, to whichever leaf.
    pub letters: Duration,
    /// How often each leaf restarts in the mean, and the hub, at random times.
    pub restarts: [u64; 2],
    /// Each of the lines, with its faults.
    pub setup: Setup,
    /// Everything random follows from it.
    pub seed: u64,
}

impl Make {
    /// Whether the leaf at this address sleeps.
    #[must_use]
    pub const fn sleeps(&self, own: u8) -> bool {
        own > self.leaves.saturating_sub(self.sleepers)
    }
}

/// What came of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Sum {
    /// The books of what the leaves sent.
    pub reports: Balance,
    /// The books of what the hub took for the leaves.
    pub hub: Balance,
    /// What became of the desk's letters.
    pub letters: Letters,
    /// Frames given to the lines, while the faults lasted.
    pub frames: u64,
    /// Of those, lost.
    pub lost: u64,
    /// Of those, copied or late.
    pub strayed: u64,
    /// Restarts of a leaf, and of the hub.
    pub restarts: [u64; 2],
    /// How often a leaf has gone on from what it kept over its sleep.
    pub naps: u64,
    /// Sessions opened, as the hub counts them.
    pub sessions: u64,
    /// Confirmed messages that the hub had at once, at most; and of one leaf.
    pub most: [usize; 2],
    /// Messages that the hub refused because the pool was full, or the leaf's share of it.
    pub refused: u64,
    /// Virtual time until all reports were taken, s.
    pub seconds: u64,
}

/// A line of this medium that loses 20 % of all frames; a radio also doubles 5 % and delays as many, by up to 5 ms.
#[must_use]
pub fn setup(medium: Medium) -> Setup {
    let lose = Faults { lose: 0.2, ..Faults::NONE };
    match medium {
        Medium::Wire => Setup { queue: 256, ..Setup::uart(1_000_000).with(lose) },
        Medium::Radio => {
            let faults = Faults { copy: 0.05, late: 0.05, late_by: Duration::from_millis(5), ..lose };
            Setup { carries: Carries::Datagrams, queue: 256, ..Setup::uart(1_000_000).with(faults) }
        }
    }
}
