//! A soak: two real links under a named noise, night after night in virtual time, with the books of promise P3 checked after each night.
//!
//! A *night* is one pair of boards with a framing, a window and mishaps of its own: they send messages of all classes as fast as the line takes
//! them and restart now and then; at last the faults stop, nothing new is sent, all settles, and the books must balance. Many nights
//! make a soak; night n of a seed is the same whatever the number of threads.

mod night;
mod noise;

pub use night::night;
pub use noise::{NOISES, Noise};

use crate::Seed;
use bellwire_cli::sim::Balance;
use std::collections::BTreeMap;
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

/// What happened in one night, or in many.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Sum {
    /// Nights.
    pub nights: u64,
    /// Frames given to the lines, both ways, while the noise lasted.
    pub frames: u64,
    /// Faults of the lines: octets dropped, flipped, doubled, put in or replaced, frames lost, copied or late.
    pub faults: u64,
    /// Restarts of a board.
    pub restarts: u64,
    /// Damaged payloads that got past the FCS.
    pub slipped: u64,
    /// The books of both ways.
    pub balance: Balance,
}

impl Sum {
    fn add(&mut self, more: &Self) {
        self.nights += more.nights;
        self.frames += more.frames;
        self.faults += more.faults;
        self.restarts += more.restarts;
        self.slipped += more.slipped;
        self.balance += more.balance;
    }
}

/// Soaks two links in `noise` until they have carried at least `frames`, on `threads` threads.
///
/// # Errors
/// The first night whose books do not balance, in words.
///
/// # Panics
/// If a worker does.
pub fn soak(noise: &Noise, frames: u64, threads: usize, seed: &Seed) -> Result<Sum, String> {
    let (next, enough) = (AtomicU64::new(0), AtomicBool::new(false));
    let nights: Mutex<BTreeMap<u64, Result<Sum, String>>> = Mutex::default();
    let work = || {
        while !enough.load(Ordering::Relaxed) {
            let number = next.fetch_add(1, Ordering::Relaxed);
            let result = night(noise, number, seed);
            let mut nights = nights.lock().expect("no worker has panicked");
            nights.insert(number, result);
            if first(&nights, frames).is_some() {
                enough.store(true, Ordering::Relaxed);
            }
        }
    };
    std::thread::scope(|scope| (0..threads.max(1)).for_each(|_| drop(scope.spawn(work))));
    first(&nights.into_inner().expect("no worker has panicked"), frames).expect("enough nights")
}

/// The sum of the first nights in a row that carried `frames`, or the first failure among them; `None` if more are needed.
fn first(nights: &BTreeMap<u64, Result<Sum, String>>, frames: u64) -> Option<Result<Sum, String>> {
    let mut sum = Sum::default();
    for (number, (found, night)) in (0..).zip(nights) {
        if number != *found {
            return None;
        }
        match night {
            Ok(night) => sum.add(night),
            Err(words) => return Some(Err(words.clone())),
        }
        if sum.frames >= frames {
            return Some(Ok(sum));
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The small soak of the ordinary tests: every noise for some nights.
    #[test]
    fn a_short_soak_in_each_noise_balances() {
        let seed = crate::seed("a_short_soak_in_each_noise_balances");
        for noise in &NOISES {
            let sum = soak(noise, 100_000, 2, &seed).unwrap();
            println!("{}: {sum:?}", noise.name);
            assert!(sum.balance.delivered > 1_000 && sum.balance.lost > 0 && sum.restarts > 0, "{sum:?}");
            assert_eq!((sum.faults == 0, sum.slipped), (noise.name == "clean", 0), "{sum:?}");
        }
    }

    #[test]
    fn a_soak_does_not_depend_on_the_threads() {
        let seed = crate::seed("a_soak_does_not_depend_on_the_threads");
        let [one, three] = [1, 3].map(|threads| soak(&NOISES[2], 50_000, threads, &seed));
        assert_eq!(one, three);
    }
}
