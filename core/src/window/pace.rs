//! Pacing: at most so many new numbers in any span of a given length (W-42, W-45), in constant memory.

use crate::time::Duration;

/// Parts that the span is cut into: the more, the closer to the full rate.
const PARTS: u32 = 4;

/// Counts sendings by quarters of the span. Any span touches at most five of them, so their sum bounds it; up to a fifth of the
/// rate is given away for that.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub(crate) struct Pace {
    /// Sendings in this quarter and the four before, newest first.
    counts: [u8; 5],
    /// Time left of this quarter, µs; zero while nothing is counted.
    left: u32,
}

impl Pace {
    /// Whether one more may be sent without exceeding `most`.
    pub(crate) fn is_open(&self, most: u8) -> bool {
        let sum: u16 = self.counts.iter().fold(0, |sum, &count| sum.saturating_add(u16::from(count)));
        sum < u16::from(most)
    }

    /// One is sent, in spans of `span`.
    pub(crate) fn count(&mut self, span: Duration) {
        if self.left == 0 {
            self.left = (span.as_ticks() / PARTS).saturating_add(1);
        }
        if let Some(newest) = self.counts.first_mut() {
            *newest = newest.saturating_add(1);
        }
    }

    /// Time passes, in spans of `span`.
    pub(crate) fn elapse(&mut self, passed: Duration, span: Duration) {
        let mut passed = passed.as_ticks();
        let quarter = (span.as_ticks() / PARTS).saturating_add(1);
        while self.left > 0 && passed >= self.left {
            passed = passed.saturating_sub(self.left);
            let [newest, second, third, fourth, _] = self.counts;
            self.counts = [0, newest, second, third, fourth];
            self.left = if self.counts == [0; 5] { 0 } else { quarter };
        }
        self.left = self.left.saturating_sub(passed);
    }

    /// The time until the counts change; zero while nothing is counted.
    pub(crate) const fn left(&self) -> Duration {
        Duration::from_ticks(self.left)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_span_ever_holds_more_than_allowed_and_four_fifths_are_reached() {
        const SPAN: u32 = 100_000;
        let span = Duration::from_ticks(SPAN);
        let mut pace = Pace::default();
        let mut sent = std::vec::Vec::new();
        let mut dice = 1_u32;
        for step in 0..20_000_u32 {
            let now = step * 137;
            pace.elapse(Duration::from_ticks(137), span);
            dice = dice.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            // Bursts and pauses.
            if (step / 500) % 3 != 2 || dice >> 30 == 0 {
                while pace.is_open(40) && dice >> 28 != 0 {
                    pace.count(span);
                    sent.push(now);
                }
            }
        }
        let most = sent
            .iter()
            .enumerate()
            .map(|(at, &first)| sent[at..].iter().take_while(|&&later| later - first < SPAN).count());
        assert_eq!(most.max(), Some(40));
        assert!(sent.len() > 20_000 * 137 / 100_000 * 40 * 2 / 3, "{}", sent.len());
    }

    #[test]
    fn a_quarter_of_the_span_passes_before_counts_move_on() {
        let span = Duration::from_ticks(100_000);
        let mut pace = Pace::default();
        assert_eq!(pace.left(), Duration::from_ticks(0));
        pace.count(span);
        assert_eq!(pace.left(), Duration::from_ticks(25_001));
        pace.elapse(Duration::from_ticks(10_000), span);
        pace.count(span);
        assert_eq!(pace.left(), Duration::from_ticks(15_001), "a later one does not begin it anew");
        assert!(!pace.is_open(2));
        pace.elapse(Duration::from_ticks(15_001 + 3 * 25_001), span);
        assert!(!pace.is_open(2), "four quarters on they still count");
        pace.elapse(Duration::from_ticks(25_001), span);
        assert!(pace.is_open(1));
        assert_eq!(pace, Pace::default());
    }
}
