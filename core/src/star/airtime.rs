//! An account of airtime: how long this board has sent within a regulatory window, and when it may send again.

use crate::time::Duration;

/// How much may be sent in how long.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Allowance {
    /// The most airtime in any window, µs. Many sub-bands of the 868 MHz band allow 0.1 %, 1 % or 10 % of an hour (CEPT ERC/REC 70-03): 3.6 s, 36 s, 360 s.
    /// Check the rules of your place.
    pub airtime: u32,
    /// One slice of the window, µs; the window is as many slices as the account has.
    pub slice: Duration,
}

/// The airtime of one sender within a sliding window of `SLICES` slices: never more than allowed in *any* window of that length, wherever it starts.
///
/// It keeps one number a slice, so it forgets a slice as a whole: up to one slice later than an exact book would. More slices forget sooner and
/// cost 4 octets each.
///
/// # Example
/// ```
/// use bellwire::star::{Airtime, Allowance};
/// use bellwire::time::Duration;
///
/// // 1 % of an hour, in 12 slices of 5 minutes.
/// let mut account = Airtime::<12>::new(Allowance { airtime: 36_000_000, slice: Duration::from_ticks(300_000_000) });
/// assert_eq!(account.wait_for(Duration::from_ticks(370_688)), Some(Duration::from_ticks(0)));
/// account.charge(Duration::from_ticks(370_688));
/// assert_eq!(account.left().as_ticks(), 36_000_000 - 370_688);
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Airtime<const SLICES: usize> {
    allowance: Allowance,
    /// What was sent in the slice that is running.
    running: u32,
    /// And in those before it, the newest first: with the running one they cover any window that ends now.
    before: [u32; SLICES],
    /// Time left of the running slice, µs.
    slice_left: u32,
}

impl<const SLICES: usize> Airtime<SLICES> {
    /// Nothing sent yet. After a restart that may be wrong: begin with [`charge`](Self::charge) of what may have been sent, or wait one window.
    #[must_use]
    pub fn new(allowance: Allowance) -> Self {
        Self { allowance, running: 0, before: [0; SLICES], slice_left: Self::slice(&allowance) }
    }

    /// A slice of no length would never end.
    fn slice(allowance: &Allowance) -> u32 {
        allowance.slice.as_ticks().max(1)
    }

    fn used(&self) -> u32 {
        self.before.iter().fold(self.running, |sum, slice| sum.saturating_add(*slice))
    }

    /// The airtime that is left in the window that ends now.
    #[must_use]
    pub fn left(&self) -> Duration {
        Duration::from_ticks(self.allowance.airtime.saturating_sub(self.used()))
    }

    /// Time passes: at most [`LONGEST`](crate::time::LONGEST) a call.
    pub fn elapse(&mut self, span: Duration) {
        let mut span = span.as_ticks();
        let slice = Self::slice(&self.allowance);
        // One slice more than there are empties the account; the rest only moves the edge.
        for _ in 0..=SLICES {
            if span < self.slice_left {
                break;
            }
            span = span.wrapping_sub(self.slice_left);
            self.slice_left = slice;
            self.before.rotate_right(1);
            if let Some(newest) = self.before.first_mut() {
                *newest = self.running;
            }
            self.running = 0;
        }
        let into = span.checked_rem(slice).unwrap_or(0);
        self.slice_left = if span < self.slice_left {
            self.slice_left.wrapping_sub(span)
        } else {
            slice.wrapping_sub(into)
        };
    }

    /// How long to wait before `airtime` may be sent; zero: now. `None`: longer than the whole allowance, so never.
    #[must_use]
    pub fn wait_for(&self, airtime: Duration) -> Option<Duration> {
        let wanted = airtime.as_ticks();
        let excess = self.used().saturating_add(wanted).saturating_sub(self.allowance.airtime);
        if wanted > self.allowance.airtime {
            return None;
        }
        let mut freed = 0_u32;
        let mut wait = 0_u32;
        let mut next = self.slice_left;
        // The oldest slice is forgotten when the running one ends, and so on.
        for slice in self.before.iter().rev().chain([&self.running]) {
            if freed >= excess {
                break;
            }
            freed = freed.saturating_add(*slice);
            wait = wait.saturating_add(next);
            next = Self::slice(&self.allowance);
        }
        Some(Duration::from_ticks(wait))
    }

    /// So much has been sent, whether or not it was allowed.
    pub fn charge(&mut self, airtime: Duration) {
        self.running = self.running.saturating_add(airtime.as_ticks());
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::vec::Vec;

    const ALLOWANCE: Allowance = Allowance { airtime: 10_000, slice: Duration::from_ticks(25_000) };
    const WINDOW: u64 = 100_000;

    proptest! {
        /// Against a list of everything that was sent: no window of the full length, wherever it ends, holds more than allowed; a wait that
        /// is told suffices, and a tick less does not.
        #[test]
        fn no_window_holds_more_than_allowed(wishes in prop::collection::vec((0_u32..60_000, 1_u32..6_000), 1..120)) {
            let mut account = Airtime::<4>::new(ALLOWANCE);
            let mut now = 0_u64;
            let mut sent: Vec<(u64, u32)> = Vec::new();
            for (pause, airtime) in wishes {
                account.elapse(Duration::from_ticks(pause));
                now += u64::from(pause);
                let airtime = Duration::from_ticks(airtime);
                let wait = account.wait_for(airtime).expect("within the allowance");
                if wait.as_ticks() > 0 {
                    let mut early = account.clone();
                    early.elapse(Duration::from_ticks(wait.as_ticks() - 1));
                    prop_assert_ne!(early.wait_for(airtime), Some(Duration::from_ticks(0)));
                    prop_assert!(u64::from(wait.as_ticks()) <= WINDOW + 25_000);
                    account.elapse(wait);
                    now += u64::from(wait.as_ticks());
                }
                prop_assert_eq!(account.wait_for(airtime), Some(Duration::from_ticks(0)));
                account.charge(airtime);
                sent.push((now, airtime.as_ticks()));
                let within: u32 = sent.iter().filter(|(at, _)| now - at < WINDOW).map(|(_, airtime)| airtime).sum();
                prop_assert!(within <= ALLOWANCE.airtime, "{} in the window that ends at {}", within, now);
            }
        }

        /// In one piece or in many, time passes alike.
        #[test]
        fn a_span_can_be_cut_anywhere(charges in prop::collection::vec(0_u32..3_000, 1..9), span in 0_u32..400_000, cut in 0_u32..400_000) {
            let mut whole = Airtime::<4>::new(ALLOWANCE);
            for charge in charges {
                whole.charge(Duration::from_ticks(charge));
                whole.elapse(Duration::from_ticks(13_000));
            }
            let mut pieces = whole.clone();
            let cut = cut.min(span);
            whole.elapse(Duration::from_ticks(span));
            pieces.elapse(Duration::from_ticks(cut));
            pieces.elapse(Duration::from_ticks(span - cut));
            prop_assert_eq!(whole, pieces);
        }
    }

    /// 36 s an hour, and a frame of 370.688 ms (20 octets at spreading factor 10, 125 kHz): 97 an hour, as 36 s / 370.688 ms says.
    #[test]
    fn an_hour_at_one_percent_takes_97_frames_of_371_ms() {
        let frame = Duration::from_ticks(370_688);
        let mut account =
            Airtime::<12>::new(Allowance { airtime: 36_000_000, slice: Duration::from_ticks(300_000_000) });
        let mut frames = 0;
        while account.wait_for(frame) == Some(Duration::from_ticks(0)) {
            account.charge(frame);
            frames += 1;
        }
        assert_eq!(frames, 97);
        assert_eq!(
            account.wait_for(frame),
            Some(Duration::from_ticks(3_900_000_000)),
            "one hour and the slice that it lies in"
        );
        assert_eq!(account.wait_for(Duration::from_ticks(36_000_001)), None);
    }
}
