//! The only source of randomness in the simulation.

use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::{Rng, SeedableRng};

/// The seed of a run: the same seed, the same run, octet for octet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Seed(pub u64);

impl Seed {
    /// The generator of one part of the run. Each part (a line, a board) has a stream of its own, so that a further part
    /// changes nothing for the others.
    #[must_use]
    pub fn stream(self, part: u64) -> Dice {
        // The odd constant of splitmix64 keeps the streams of neighbouring parts and seeds apart.
        Dice(Xoshiro256PlusPlus::seed_from_u64(
            self.0 ^ (part.wrapping_add(1)).wrapping_mul(0x9E37_79B9_7F4A_7C15),
        ))
    }
}

impl core::fmt::Display for Seed {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "{}", self.0)
    }
}

/// A stream of random numbers: xoshiro256++ (Blackman and Vigna, ACM TOMS 47(4), 2021).
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Dice(Xoshiro256PlusPlus);

impl Dice {
    /// 64 random bits.
    pub fn bits(&mut self) -> u64 {
        self.0.next_u64()
    }

    /// A number in `0..below`, each with the same odds; 0 if `below` is 0.
    pub fn below(&mut self, below: u64) -> u64 {
        // Multiply-shift with rejection of the short remainder (Lemire, ACM TOMACS 29(1), 2019).
        let Some(short) = below.wrapping_neg().checked_rem(below) else { return 0 };
        loop {
            let wide = u128::from(self.bits()) * u128::from(below);
            let high = u64::try_from(wide >> 64).unwrap_or(u64::MAX);
            if wide & u128::from(u64::MAX) >= u128::from(short) {
                return high;
            }
        }
    }

    /// `true` with odds `odds` (0.0 never, 1.0 always). Draws nothing at 0.
    pub fn happens(&mut self, odds: f64) -> bool {
        odds > 0.0 && self.part() < odds
    }

    /// A number in `0.0..1.0` with 53 random bits.
    #[allow(clippy::cast_precision_loss, reason = "53 bits are exact in an f64")]
    pub fn part(&mut self) -> f64 {
        (self.bits() >> 11) as f64 * (1.0 / 9_007_199_254_740_992.0)
    }

    /// A pause of a Poisson process, in units of the mean: exponentially distributed. By comparisons alone, so that it is the same on every platform (J. von
    /// Neumann, "Various techniques used in connection with random digits", 1951).
    pub fn exponential(&mut self) -> f64 {
        let mut whole = 0.0;
        loop {
            let first = self.part();
            let (mut last, mut falls) = (first, true);
            loop {
                let next = self.part();
                if next > last {
                    break;
                }
                (last, falls) = (next, !falls);
            }
            if falls {
                return whole + first;
            }
            whole += 1.0;
        }
    }

    /// A random octet.
    pub fn octet(&mut self) -> u8 {
        self.bits().to_le_bytes()[7]
    }

    /// 32 random bits.
    pub fn word(&mut self) -> u32 {
        (self.bits() >> 32) as u32
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn streams_repeat_with_their_seed_and_differ_between_seeds_and_parts() {
        let first: Vec<u64> = (0..64).map(|part| Seed(7).stream(part).bits()).collect();
        let again: Vec<u64> = (0..64).map(|part| Seed(7).stream(part).bits()).collect();
        assert_eq!(first, again);
        let mut all: Vec<u64> =
            (0..64).flat_map(|seed| (0..64).map(move |part| Seed(seed).stream(part).bits())).collect();
        all.sort_unstable();
        all.dedup();
        assert_eq!(all.len(), 64 * 64);
    }

    #[test]
    fn below_stays_below() {
        let mut dice = Seed(1).stream(0);
        assert_eq!(dice.below(0), 0);
        for below in 1..50 {
            assert!((0..200).all(|_| dice.below(below) < below));
        }
    }
}
