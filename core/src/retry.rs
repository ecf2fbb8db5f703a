//! When to try again: deadline, back-off with a random part, bounded tries (W-37, W-50). Pure policy, no clock.

use crate::{rules::holds, time::Duration};

/// A small random sequence for the random part of time-outs (xorshift, Marsaglia, Journal of Statistical Software 8(14), 2003).
/// It is not fit for secrets. A seed of 0 gives zero for ever: no random part.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Dice(u32);

impl Dice {
    /// Dice from a seed.
    #[must_use]
    pub const fn new(seed: u32) -> Self {
        Self(seed)
    }

    /// The next 32 bits.
    fn roll(&mut self) -> u32 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 17;
        self.0 ^= self.0 << 5;
        self.0
    }

    /// A random part of `whole`: 0 to `most` 256ths of it.
    pub fn share(&mut self, whole: Duration, most: u8) -> Duration {
        Duration::from_ticks(part(part(whole.as_ticks(), most), self.face()))
    }

    /// The top octet of the next 32 bits.
    fn face(&mut self) -> u8 {
        let [.., top] = self.roll().to_le_bytes();
        top
    }
}

/// So many 256ths, rounded down at most to the 256th below: no division, which is slow on a board.
const fn part(whole: u32, most: u8) -> u32 {
    (whole >> 8).wrapping_mul(most as u32)
}

/// How to try again.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Policy {
    /// Sendings in all; `None`: no end.
    pub tries: Option<u8>,
    /// The largest time-out, µs, before the random part.
    pub ceiling: u32,
    /// The largest random part, in 256ths of the time-out.
    pub spread: u8,
}

/// What to do after a time-out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Next {
    /// Send again.
    Again,
    /// The last try has timed out.
    GiveUp,
}

/// The tries of one item. Its deadline is kept as the time that is left.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Retry {
    time_out: u32,
    left: u32,
    sendings: u8,
    /// The random part of the time-out: so many 256ths of so many 256ths.
    spread: u8,
    face: u8,
}

impl Retry {
    /// Nothing sent yet; the first time-out is `time_out`, without a random part.
    #[must_use]
    pub const fn new(time_out: Duration) -> Self {
        Self { time_out: time_out.as_ticks(), left: 0, sendings: 0, spread: 0, face: 0 }
    }

    /// As [`new`](Self::new), with a random part from the first time-out on.
    #[must_use]
    pub fn spread(time_out: Duration, policy: &Policy, dice: &mut Dice) -> Self {
        Self { spread: policy.spread, face: dice.face(), ..Self::new(time_out) }
    }

    /// As if sent once, with at most `left` to the time-out.
    #[must_use]
    pub fn waiting(mut self, left: Duration) -> Self {
        self.sent(Duration::from_ticks(0));
        self.left = self.left.min(left.as_ticks());
        self
    }

    /// Sendings so far.
    #[must_use]
    pub const fn sendings(&self) -> u8 {
        self.sendings
    }

    /// It is sent now and will have left the board after `leaving`; the time-out counts from there.
    pub fn sent(&mut self, leaving: Duration) {
        self.sendings = self.sendings.saturating_add(1);
        self.left = self.whole().saturating_add(leaving.as_ticks());
    }

    /// The time since it was last sent; `None` once it has timed out.
    pub(crate) fn since_sent(&self) -> Option<Duration> {
        (self.left > 0).then(|| Duration::from_ticks(self.whole().saturating_sub(self.left)))
    }

    /// The time-out with its random part.
    const fn whole(&self) -> u32 {
        self.time_out.saturating_add(part(part(self.time_out, self.spread), self.face))
    }

    /// Time passes.
    pub fn elapse(&mut self, span: Duration) {
        self.left = self.left.saturating_sub(span.as_ticks());
    }

    /// The time left before the time-out; zero: it is due.
    #[must_use]
    pub const fn left(&self) -> Duration {
        Duration::from_ticks(self.left)
    }

    /// Backs off after a time-out: doubles the next one up to the ceiling and adds the random part.
    pub fn expire(&mut self, policy: &Policy, dice: &mut Dice) -> Next {
        let doubled = if holds(50) { self.time_out.saturating_mul(2) } else { self.time_out };
        self.time_out = doubled.min(policy.ceiling);
        (self.spread, self.face) = (policy.spread, dice.face());
        match policy.tries {
            Some(tries) if self.sendings.saturating_add(u8::from(!holds(133))) >= tries => {
                // Counted no further, so that states repeat.
                self.sendings = tries;
                Next::GiveUp
            }
            Some(_) => Next::Again,
            None => {
                self.sendings = 0;
                Next::Again
            }
        }
    }

    /// Goes to the slowest pace.
    pub fn slow_down(&mut self, policy: &Policy) {
        self.time_out = policy.ceiling;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The times of all sendings and of giving up, µs, if nothing is ever heard and the random part is `extra` percent at every try.
    fn times(first: u32, policy: &Policy, extra: u64) -> std::vec::Vec<u64> {
        let mut dice = Dice::new(0);
        let mut retry = Retry::new(Duration::from_ticks(first));
        let mut now = 0;
        let mut times = std::vec![0];
        retry.sent(Duration::from_ticks(0));
        loop {
            now += u64::from(retry.left().as_ticks()) * (100 + extra) / 100;
            times.push(now);
            retry.elapse(retry.left());
            match retry.expire(policy, &mut dice) {
                Next::Again => retry.sent(Duration::from_ticks(0)),
                Next::GiveUp => return times,
            }
        }
    }

    /// RFC 7252 section 4.8.2: MAX_TRANSMIT_SPAN = ACK_TIMEOUT (2^MAX_RETRANSMIT - 1) ACK_RANDOM_FACTOR = 45 s and
    /// MAX_TRANSMIT_WAIT = ACK_TIMEOUT (2^(MAX_RETRANSMIT + 1) - 1) ACK_RANDOM_FACTOR = 93 s, and the same formulas for UART values.
    #[test]
    fn times_are_the_derived_times_of_rfc_7252_section_4_8_2() {
        for (first, tries, span, wait) in [
            (2_000_000, 5, 45_000_000, 93_000_000),
            (50_000, 5, 1_125_000, 2_325_000),
            (200_000, 4, 2_100_000, 4_500_000),
            (500_000, 6, 23_250_000, 47_250_000),
        ] {
            let policy = Policy { tries: Some(tries), ceiling: u32::MAX, spread: 50 };
            let times = times(first, &policy, 50);
            let tries = usize::from(tries);
            assert_eq!((times.len(), times[tries - 1], times[tries]), (tries + 1, span, wait));
        }
    }

    #[test]
    fn time_outs_double_up_to_the_ceiling() {
        let policy = Policy { tries: Some(8), ceiling: 60_000_000, spread: 0 };
        let times = times(1_000_000, &policy, 0);
        let waits: std::vec::Vec<u64> =
            times.windows(2).map(|pair| (pair[1] - pair[0]) / 1_000_000).collect();
        assert_eq!(waits, [1, 2, 4, 8, 16, 32, 60, 60]);
    }

    #[test]
    fn the_random_part_lies_between_nothing_and_the_spread_and_uses_that_range() {
        let mut dice = Dice::new(7);
        let whole = Duration::from_ticks(1_000_000);
        let (mut least, mut most) = (u32::MAX, 0);
        for _ in 0..10_000 {
            let share = dice.share(whole, 64).as_ticks();
            (least, most) = (least.min(share), most.max(share));
        }
        assert!(least < 2_500 && (247_000..=250_000).contains(&most), "{least}..={most}");
        assert_eq!(Dice::new(0).share(whole, 64).as_ticks(), 0);
    }

    /// The sequence of the paper's own seed, computed apart from its definition.
    #[test]
    fn the_dice_are_xorshift_13_17_5() {
        let mut dice = Dice::new(2_463_534_242);
        let rolls: [u32; 4] = core::array::from_fn(|_| dice.roll());
        assert_eq!(rolls, [723_471_715, 2_497_366_906, 2_064_144_800, 2_008_045_182]);
    }

    /// A spread of half the time-out, and 43 256ths of that: the top octet of the first roll.
    #[test]
    fn the_first_time_out_has_its_random_part_too() {
        let policy = Policy { tries: Some(2), ceiling: u32::MAX, spread: 128 };
        let mut dice = Dice::new(2_463_534_242);
        let mut retry = Retry::spread(Duration::from_ticks(1 << 20), &policy, &mut dice);
        retry.sent(Duration::from_ticks(5));
        assert_eq!(retry.left().as_ticks(), (1 << 20) + (1 << 19) / 256 * 43 + 5);
    }
}
