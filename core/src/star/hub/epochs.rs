//! Pacing on unordered media (W-42, W-45) with three octets a leaf: sendings are counted by *epochs*, spans of one lifetime.
//!
//! Any L touches at most two epochs and any 2 L at most three, so their sums bound what is sent in it.

use crate::time::Duration;

/// New numbers in an epoch: twice that is 254 = 256 - 2 W with a window of 1 (W-42).
const NUMBERS: u8 = 127;

/// Set-points in an epoch: three times that is 126 (W-45 allows 127).
const SET_POINTS: u8 = 42;

/// Which epoch it is; on ordered media always the first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) struct Epochs {
    /// The lifetime of a frame (L), µs; 0 on ordered media.
    length: u32,
    left: u32,
    number: u8,
}

impl Epochs {
    pub(super) const fn new(lifetime: u32) -> Self {
        Self { length: lifetime, left: lifetime, number: 0 }
    }

    /// Microseconds until the next epoch.
    pub(super) const fn left(&self) -> u32 {
        self.left
    }

    /// Time passes; gives how many epochs have ended.
    pub(super) fn elapse(&mut self, span: Duration) -> u8 {
        if self.length == 0 || span.as_ticks() < self.left {
            self.left = self.left.saturating_sub(span.as_ticks());
            return 0;
        }
        let over = span.as_ticks().saturating_sub(self.left);
        let (whole, part) =
            (over.checked_div(self.length).unwrap_or(0), over.checked_rem(self.length).unwrap_or(0));
        self.left = self.length.saturating_sub(part);
        let ended = u8::try_from(whole.saturating_add(1)).unwrap_or(u8::MAX);
        self.number = self.number.wrapping_add(ended);
        ended
    }
}

/// What one leaf was sent in the present epoch, and how many epochs its session is still *young*.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub(super) struct Paced {
    epoch: u8,
    numbers: u8,
    /// The upper two bits: epochs until the session has been open for at least a lifetime.
    set_points: u8,
}

const YOUNG: u32 = 6;

impl Paced {
    const fn young(self) -> u8 {
        self.set_points >> YOUNG
    }

    const fn count(self) -> u8 {
        self.set_points & 0x3F
    }

    /// Looks at the epochs. Call it at least once in 255 of them while [`is_young`](Self::is_young).
    pub(super) fn look(&mut self, epochs: &Epochs) {
        let passed = epochs.number.wrapping_sub(self.epoch);
        if passed > 0 {
            let young = self.young().saturating_sub(passed);
            *self = Self { epoch: epochs.number, numbers: 0, set_points: young << YOUNG };
        }
    }

    /// A session opens.
    pub(super) fn open(&mut self, epochs: &Epochs) {
        self.look(epochs);
        let young = if epochs.length == 0 { 0 } else { 2 };
        self.set_points = young << YOUNG | self.count();
    }

    /// Copies of openings may still be under way (W-36).
    pub(super) const fn is_young(self) -> bool {
        self.young() > 0
    }

    pub(super) fn numbers_are_open(self, epochs: &Epochs) -> bool {
        epochs.length == 0 || self.epoch != epochs.number || self.numbers < NUMBERS
    }

    pub(super) fn set_points_are_open(self, epochs: &Epochs) -> bool {
        epochs.length == 0 || self.epoch != epochs.number || self.count() < SET_POINTS
    }

    pub(super) fn count_number(&mut self, epochs: &Epochs) {
        self.look(epochs);
        self.numbers = self.numbers.saturating_add(1);
    }

    pub(super) fn count_set_point(&mut self, epochs: &Epochs) {
        self.look(epochs);
        if self.count() < SET_POINTS {
            self.set_points = self.set_points.wrapping_add(1);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::vec::Vec;

    /// The most that fall into any span, and how many there are in all.
    fn most(sent: &[u32], span: u32) -> usize {
        let within = |at: usize| sent[at..].iter().take_while(|&&later| later - sent[at] < span).count();
        (0..sent.len()).map(within).max().unwrap_or(0)
    }

    #[test]
    fn no_lifetime_holds_more_numbers_and_no_two_more_set_points_than_allowed() {
        const L: u32 = 100_000;
        let mut epochs = Epochs::new(L);
        let mut paced = Paced::default();
        let (mut numbers, mut set_points) = (Vec::new(), Vec::new());
        for now in (0..40 * L).step_by(97) {
            epochs.elapse(Duration::from_ticks(if now == 0 { 0 } else { 97 }));
            if paced.numbers_are_open(&epochs) {
                paced.count_number(&epochs);
                numbers.push(now);
            }
            if paced.set_points_are_open(&epochs) {
                paced.count_set_point(&epochs);
                set_points.push(now);
            }
        }
        assert!(most(&numbers, L) <= 254 && numbers.len() == 40 * 127);
        assert!(most(&set_points, 2 * L) <= 126 && set_points.len() == 40 * 42);
        // The worst: all at the end of one epoch and at the beginning of the next.
        let mut paced = Paced::default();
        let mut late = Vec::new();
        let mut epochs = Epochs::new(L);
        for now in 0..3 * L / 100 {
            let now = now * 100;
            epochs.elapse(Duration::from_ticks(if now == 0 { 0 } else { 100 }));
            if now > L - 13_000 && paced.numbers_are_open(&epochs) {
                paced.count_number(&epochs);
                late.push(now);
            }
        }
        assert_eq!(most(&late, L), 254);
    }

    #[test]
    fn a_session_is_young_for_more_than_one_and_at_most_two_lifetimes() {
        for begun in (0..1_000).step_by(125) {
            let mut epochs = Epochs::new(1_000);
            epochs.elapse(Duration::from_ticks(begun));
            let mut paced = Paced::default();
            paced.open(&epochs);
            let mut age = 0;
            while paced.is_young() {
                age += 1;
                epochs.elapse(Duration::from_ticks(1));
                paced.look(&epochs);
            }
            assert!((1_001..=2_000).contains(&age), "{age}");
        }
    }
}
