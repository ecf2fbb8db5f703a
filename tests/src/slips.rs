//! What slips through: damaged wire images that a receiver takes for a frame other than the one sent, counted by kind of damage.
//!
//! A trial is one damaged image fed to a fresh receiver; it counts as accepted if a frame other than the one sent passes FCS and header
//! rules. The count of a seed does not depend on the number of threads.

use crate::{
    Seed, line,
    seed::Rng,
    vector::{Find, FramingName, Line},
};
use bellwire::framing::Lead;
use rand::{Rng as _, RngCore as _};
use std::sync::atomic::{AtomicU64, Ordering};

/// The four framings with both FCS.
pub const LINES: [Line; 8] = {
    const fn of(framing: FramingName, fcs: u8) -> Line {
        Line { framing, fcs, map: 0, buffer: 0 }
    }
    [
        of(FramingName::Cobs, 16),
        of(FramingName::OctetStuffing, 16),
        of(FramingName::Slip, 16),
        of(FramingName::Datagram, 16),
        of(FramingName::Cobs, 32),
        of(FramingName::OctetStuffing, 32),
        of(FramingName::Slip, 32),
        of(FramingName::Datagram, 32),
    ]
};

/// Kinds of damage, in words. Bits are counted as a UART sends them, least significant first; a burst of n bits has its first and its last
/// bit flipped and each between with odds of one half.
pub const DAMAGE: [&str; 12] = [
    "each 1-bit flip",
    "each 2-bit flip",
    "3-bit flips",
    "bursts of 2 to 16 bits",
    "bursts of 17 bits",
    "bursts of 18 to 32 bits",
    "each octet put in",
    "each octet lost",
    "24 random octets between delimiters",
    "24 printable octets between delimiters",
    "a line of zeros, 1 to 64 octets",
    "a line of ones, 1 to 64 octets",
];

/// Trials of one kind of damage.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Count {
    /// Wrong frames taken.
    pub accepted: u64,
    /// Damaged images tried.
    pub trials: u64,
}

impl Count {
    /// Bounds of the rate: two-sided, 95 %, Poisson (Garwood 1936), which for rare events is the limit of the exact binomial bounds.
    #[must_use]
    #[allow(clippy::cast_precision_loss)]
    pub fn bounds(self) -> (f64, f64) {
        let (count, trials) = (self.accepted as f64, self.trials as f64);
        let high = solve(self.accepted, 0.025, count, count + 10.0 * (count + 1.0).sqrt() + 20.0);
        let low = if self.accepted == 0 { 0.0 } else { solve(self.accepted - 1, 0.975, 0.0, count) };
        (low / trials, high / trials)
    }
}

/// Odds of at most `count` events where `mean` are expected.
#[allow(clippy::cast_precision_loss)]
fn at_most(count: u64, mean: f64) -> f64 {
    let mut log = -mean;
    let mut sum = log.exp();
    for event in 1..=count {
        log += (mean / event as f64).ln();
        sum += log.exp();
    }
    sum
}

/// The mean between `low` and `high` at which [`at_most`] is `odds`.
fn solve(count: u64, odds: f64, mut low: f64, mut high: f64) -> f64 {
    for _ in 0..100 {
        let middle = f64::midpoint(low, high);
        if at_most(count, middle) > odds { low = middle } else { high = middle }
    }
    low
}

/// The counts of all kinds of damage, in the order of [`DAMAGE`].
pub type Tally = [Count; DAMAGE.len()];

/// How much to try.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Budget {
    /// Frames; each gets every 1-bit and 2-bit flip, every octet put in and every octet lost.
    pub frames: u64,
    /// Samples per frame of each of the other kinds.
    pub samples: u64,
}

/// Measures one line on all processors.
///
/// # Panics
/// If a worker does.
#[must_use]
pub fn measure(line: Line, budget: Budget, seed: &Seed) -> Tally {
    let next = AtomicU64::new(0);
    let work = || {
        let mut tally = Tally::default();
        loop {
            let part = next.fetch_add(1, Ordering::Relaxed);
            if part >= budget.frames {
                return tally;
            }
            add(&mut tally, &Frame::random(line, part, seed).tally(budget.samples));
        }
    };
    let workers = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        let workers: Vec<_> = (0..workers).map(|_| scope.spawn(work)).collect();
        workers.into_iter().fold(Tally::default(), |mut sum, worker| {
            add(&mut sum, &worker.join().expect("a worker ends well"));
            sum
        })
    })
}

fn add(sum: &mut Tally, more: &Tally) {
    for (sum, more) in sum.iter_mut().zip(more) {
        sum.accepted += more.accepted;
        sum.trials += more.trials;
    }
}

/// One frame and its wire image.
struct Frame {
    line: Line,
    first: bool,
    octets: [u8; 18],
    image: Vec<u8>,
    rng: Rng,
}

fn flip(image: &mut [u8], bit: usize) {
    image[bit / 8] ^= 1 << (bit % 8);
}

impl Frame {
    /// A notice with 16 octets of payload, its number included.
    fn random(line: Line, part: u64, seed: &Seed) -> Self {
        let mut rng = seed.part(part);
        let mut octets = [0; 18];
        rng.fill_bytes(&mut octets);
        octets[0] = 0xC0; // a notice
        octets[2] = 5;
        let image = line::encode(line, Lead::Delimiter, &octets);
        Self { line, first: part == 0, octets, image, rng }
    }

    fn tally(mut self, samples: u64) -> Tally {
        let mut tally = Tally::default();
        self.one_and_two_bits(&mut tally);
        self.put_in_and_lost(&mut tally);
        for _ in 0..samples {
            self.sample(&mut tally);
        }
        if self.first {
            for (kind, octet) in [(10, 0), (11, 0xFF)] {
                for len in 1..=64 {
                    self.judge(&mut tally[kind], &vec![octet; len]);
                }
            }
        }
        tally
    }

    fn judge(&self, count: &mut Count, image: &[u8]) {
        let found = line::finds(self.line, [image]);
        let wrong = found.iter().any(|find| matches!(find, Find::Frame(other) if other.0 != self.octets));
        count.trials += 1;
        count.accepted += u64::from(wrong);
    }

    fn one_and_two_bits(&self, tally: &mut Tally) {
        let mut image = self.image.clone();
        for first in 0..image.len() * 8 {
            flip(&mut image, first);
            self.judge(&mut tally[0], &image);
            for second in first + 1..image.len() * 8 {
                flip(&mut image, second);
                self.judge(&mut tally[1], &image);
                flip(&mut image, second);
            }
            flip(&mut image, first);
        }
    }

    fn put_in_and_lost(&self, tally: &mut Tally) {
        for place in 0..=self.image.len() {
            for octet in 0..=u8::MAX {
                let mut image = self.image.clone();
                image.insert(place, octet);
                self.judge(&mut tally[6], &image);
            }
        }
        for place in 0..self.image.len() {
            let mut image = self.image.clone();
            image.remove(place);
            self.judge(&mut tally[7], &image);
        }
    }

    fn sample(&mut self, tally: &mut Tally) {
        let bits = self.image.len() * 8;
        let mut image = self.image.clone();
        let mut hit = std::collections::BTreeSet::new();
        while hit.len() < 3 {
            hit.insert(self.rng.random_range(0..bits));
        }
        hit.into_iter().for_each(|bit| flip(&mut image, bit));
        self.judge(&mut tally[2], &image);
        for (kind, shortest, longest) in [(3, 2, 16), (4, 17, 17), (5, 18, 32)] {
            let image = self.burst(shortest, longest);
            self.judge(&mut tally[kind], &image);
        }
        for (kind, range) in [(8, 0..=u8::MAX), (9, b' '..=b'~')] {
            let inner = (0..24).map(|_| self.rng.random_range(range.clone()));
            let inner: Vec<u8> = inner.collect();
            let image = self.enclose(&inner);
            self.judge(&mut tally[kind], &image);
        }
    }

    fn burst(&mut self, shortest: usize, longest: usize) -> Vec<u8> {
        let mut image = self.image.clone();
        let span = self.rng.random_range(shortest..=longest);
        let start = self.rng.random_range(0..=image.len() * 8 - span);
        for bit in 0..span {
            if bit == 0 || bit == span - 1 || self.rng.random_range(0..2) == 1 {
                flip(&mut image, start + bit);
            }
        }
        image
    }

    fn enclose(&self, inner: &[u8]) -> Vec<u8> {
        if self.line.framing == FramingName::Datagram {
            return inner.to_vec();
        }
        let delimiter = &self.image[..1];
        [delimiter, inner, delimiter].concat()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Garwood's limits for 0 and 10 events as tables print them: 3.689, and 4.795 to 18.390.
    #[test]
    fn bounds_are_those_of_the_tables() {
        let (low, high) = Count { accepted: 0, trials: 1 }.bounds();
        assert!(low == 0.0 && (high - 3.689).abs() < 0.001, "{low} {high}");
        let (low, high) = Count { accepted: 10, trials: 1 }.bounds();
        assert!((low - 4.795).abs() < 0.001 && (high - 18.390).abs() < 0.001, "{low} {high}");
    }

    /// Without stuffing the FCS keeps its promise: distance 4, bursts up to 16 bits (RFC 3385 section 3).
    #[test]
    fn a_datagram_keeps_what_the_fcs_promises_and_the_trials_are_all_made() {
        let seed = crate::seed("a_datagram_keeps_what_the_fcs_promises_and_the_trials_are_all_made");
        let tally = measure(LINES[3], Budget { frames: 3, samples: 200 }, &seed);
        let trials = tally.map(|count| count.trials);
        // 20 octets, 160 bits.
        let flips = [3 * 160, 3 * 160 * 159 / 2];
        assert_eq!(trials[..2], flips);
        assert_eq!(trials[2..], [600, 600, 600, 600, 3 * 21 * 256, 3 * 20, 600, 600, 64, 64]);
        assert_eq!(tally[..4].iter().map(|count| count.accepted).sum::<u64>(), 0, "{tally:?}");
        assert_eq!(tally[10..].iter().map(|count| count.accepted).sum::<u64>(), 0, "{tally:?}");
    }
}
