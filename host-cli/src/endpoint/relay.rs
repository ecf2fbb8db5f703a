//! Passing octets on from one endpoint to another, as `tap` does, and how long that takes.

use std::{
    sync::{Arc, Mutex, PoisonError},
    time::Duration,
};

use super::live::Outlet;
use crate::clock;

/// How long passing on waits for room before octets are dropped. The line is not read meanwhile.
const PATIENCE: Duration = Duration::from_millis(200);

/// Passes on to an endpoint what another one reads.
pub(super) struct Relay {
    pub(super) to: Outlet,
    /// Who is on that side, for remarks.
    pub(super) who: String,
    pub(super) delays: Delays,
}

impl Relay {
    /// Passes octets on that were read at `at`; a remark if nobody took them.
    pub(super) fn pass(&mut self, octets: &[u8], at: u64) -> Option<String> {
        match self.to.write(octets, PATIENCE) {
            Ok(true) => {
                self.delays.add(clock::now().saturating_sub(at));
                None
            }
            Ok(false) => None,
            Err(_) => {
                Some(format!("{} does not read: up to {} octets were not passed on", self.who, octets.len()))
            }
        }
    }
}

/// Delays seen, as counts in classes an eighth of an octave wide: memory does not grow with their number.
#[derive(Debug, Clone, Default)]
pub struct Delays(Arc<Mutex<Counts>>);

#[derive(Debug, Default)]
struct Counts {
    classes: std::collections::BTreeMap<u32, u64>,
    worst: u64,
    all: u64,
}

impl Delays {
    /// Counts one delay, in nanoseconds.
    pub fn add(&self, delay: u64) {
        let mut counts = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        *counts.classes.entry(class(delay)).or_default() += 1;
        counts.worst = counts.worst.max(delay);
        counts.all += 1;
    }

    /// How many were counted.
    #[must_use]
    pub fn count(&self) -> u64 {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).all
    }

    /// The longest, in nanoseconds.
    #[must_use]
    pub fn worst(&self) -> u64 {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).worst
    }

    /// The delay in nanoseconds that `hundredths` of a hundred stay within, at most an eighth too high; `None` if none was counted.
    #[must_use]
    pub fn within(&self, hundredths: u8) -> Option<u64> {
        let counts = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let wanted = (counts.all * u64::from(hundredths.min(100))).div_ceil(100).max(1);
        let mut seen = 0;
        for (class, count) in &counts.classes {
            seen += count;
            if seen >= wanted {
                return Some(upper_end(*class).min(counts.worst));
            }
        }
        None
    }
}

/// The class of a delay: its highest four bits.
fn class(delay: u64) -> u32 {
    let shift = (64 - delay.leading_zeros()).saturating_sub(4);
    shift * 16 + u32::try_from(delay >> shift).unwrap_or(0)
}

/// The longest delay of a class.
fn upper_end(class: u32) -> u64 {
    let (shift, high) = (class / 16, u64::from(class % 16));
    (high << shift) + ((1 << shift) - 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_class_holds_its_delay_and_is_an_eighth_wide() {
        for delay in (0..5000).chain([u64::MAX, u64::MAX / 3, 1 << 40]) {
            let end = upper_end(class(delay));
            assert!(end >= delay && end - delay <= delay / 8, "{delay} {end}");
            assert!(end == u64::MAX || class(end + 1) > class(delay), "{delay}");
        }
    }

    #[test]
    fn shares_are_counted() {
        let delays = Delays::default();
        assert_eq!(delays.within(50), None);
        (1..=100).for_each(|delay| delays.add(delay * 1000));
        let near = |found: Option<u64>, wanted: u64| (wanted..=wanted + wanted / 8).contains(&found.unwrap());
        assert!(near(delays.within(50), 50_000) && near(delays.within(99), 99_000), "{delays:?}");
        assert_eq!((delays.within(100), delays.worst(), delays.count()), (Some(100_000), 100_000, 100));
    }
}
