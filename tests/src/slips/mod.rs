//! What slips through: damaged wire images that a receiver takes for a frame other than the one sent, counted by kind of damage.
//!
//! A trial is one damaged image fed to a fresh receiver; it counts as accepted if a frame other than the one sent passes FCS and header
//! rules. The count of a seed does not depend on the number of threads.
//!
//! ```text
//!  Damage --> Image (one random frame on one Column) --> Receiver --> Count, with its bounds
//! ```

mod column;
mod count;
mod damage;
mod image;
mod receiver;

pub use column::{COLUMNS, Column};
pub use count::Count;
pub use damage::{DAMAGE, Damage};

use crate::{Seed, line};
use bellwire::{fcs::Fcs, framing::Framing};
use image::Image;
use std::sync::atomic::{AtomicU64, Ordering};

/// Counts at least `trials` trials of one kind of damage on one column, on `threads` threads; whole frames, so a few more.
///
/// # Panics
/// If a worker does.
#[must_use]
pub fn measure(column: Column, damage: Damage, trials: u64, threads: usize, seed: &Seed) -> Count {
    let next = AtomicU64::new(0);
    let frames = damage.frames(trials);
    // Frames are handed out in batches, so that short ones do not queue for the counter.
    let batch = (frames / 64).clamp(1, 1_000);
    let work = || {
        let mut count = Count::default();
        loop {
            let from = next.fetch_add(batch, Ordering::Relaxed);
            if from >= frames {
                return count;
            }
            let to = (from + batch).min(frames);
            count.add(line::on(column.line, Batch { column, damage, from, to, seed }));
        }
    };
    std::thread::scope(|scope| {
        let workers: Vec<_> = (0..threads.max(1)).map(|_| scope.spawn(work)).collect();
        workers.into_iter().fold(Count::default(), |mut sum, worker| {
            sum.add(worker.join().expect("a worker ends well"));
            sum
        })
    })
}

/// Frames `from..to` of a measurement.
struct Batch<'a> {
    column: Column,
    damage: Damage,
    from: u64,
    to: u64,
    seed: &'a Seed,
}

impl line::Job for Batch<'_> {
    type Out = Count;

    fn run<F: Framing, C: Fcs>(self, framing: F) -> Count {
        let mut count = Count::default();
        for part in self.from..self.to {
            let mut image = Image::<F, C>::random(framing.clone(), self.column, self.seed.part(part));
            image.suffer(self.damage);
            count.add(image.count());
        }
        count
    }
}

#[cfg(test)]
mod tests;
