//! The hub's time: ticks of 256 µs for the wheel, and coarse ones of 4096 µs, which fit two octets, for what a leaf is given long for.

use crate::time::{Duration, Instant, elapsed};

/// Bits of a microsecond count below the tick.
const TICK: u32 = 8;

/// Bits of a tick count below the coarse tick.
const COARSE: u32 = 4;

/// The longest wait that coarse ticks are used for: well below half of their range, 134 s.
pub(super) const LONGEST_COARSE: u32 = 60_000_000;

/// A step backward of at most this is a late stamp of octets that arrived earlier; a longer one is a clock that was set.
const LATE_STAMP: u32 = 1_000_000;

/// Wraps after 2^32 ticks (12 days); what lies less than half of that apart can be compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) struct Clock {
    last: u32,
    tick: u32,
    /// Microseconds of the present tick.
    rest: u8,
}

impl Clock {
    pub(super) const fn new(now: Instant) -> Self {
        Self { last: now.as_ticks(), tick: 0, rest: 0 }
    }

    pub(super) const fn last(&self) -> Instant {
        Instant::from_ticks(self.last)
    }

    /// Goes on to `now`; gives the time since the last call, none if `now` lies before it. More than [`LONGEST_COARSE`] counts as that: a hub that was not
    /// served for so long is late with everything anyway.
    pub(super) fn step(&mut self, now: Instant) -> Duration {
        let span = elapsed(now, self.last());
        if span.as_ticks() == 0 {
            if elapsed(self.last(), now).as_ticks() > LATE_STAMP {
                self.last = now.as_ticks();
            }
            return span;
        }
        self.last = now.as_ticks();
        let span = span.as_ticks().min(LONGEST_COARSE);
        let [rest, ..] = self.micros().wrapping_add(span).to_le_bytes();
        let ticks = span.wrapping_add(u32::from(self.rest)) >> TICK;
        (self.tick, self.rest) = (self.tick.wrapping_add(ticks), rest);
        Duration::from_ticks(span)
    }

    /// Microseconds since the start, modulo 2^32.
    pub(super) const fn micros(&self) -> u32 {
        self.tick << TICK | self.rest as u32
    }

    pub(super) const fn tick(&self) -> u32 {
        self.tick
    }

    /// The first tick that begins `micros` from now or later.
    pub(super) const fn tick_in(&self, micros: u32) -> u32 {
        let ahead = micros.saturating_add(self.rest as u32).saturating_add(0xFF) >> TICK;
        self.tick.wrapping_add(ahead)
    }

    /// Microseconds until the tick begins; zero if it has.
    pub(super) const fn until(&self, tick: u32) -> u32 {
        let ahead = tick.wrapping_sub(self.tick);
        if ahead > u32::MAX / 2 {
            return 0;
        }
        let ahead = if ahead > u32::MAX >> (TICK + 1) { u32::MAX >> (TICK + 1) } else { ahead };
        (ahead << TICK).saturating_sub(self.rest as u32)
    }

    fn coarse(&self) -> u16 {
        let [low, high, ..] = (self.tick >> COARSE).to_le_bytes();
        u16::from_le_bytes([low, high])
    }

    /// The coarse tick after `micros` from now, never earlier and at most 8 ms later.
    pub(super) fn coarse_in(&self, micros: u32) -> u16 {
        let ahead = micros.min(LONGEST_COARSE) >> (TICK + COARSE);
        self.coarse().wrapping_add(u16::try_from(ahead).unwrap_or(u16::MAX)).wrapping_add(2)
    }

    /// Coarse ticks until that one; zero once it has come.
    fn coarse_until(&self, coarse: u16) -> u16 {
        let ahead = coarse.wrapping_sub(self.coarse());
        if ahead > u16::MAX / 2 { 0 } else { ahead }
    }

    /// Whether the coarse tick has come.
    pub(super) fn has_come(&self, coarse: u16) -> bool {
        self.coarse_until(coarse) == 0
    }

    /// The tick at which the coarse tick begins.
    pub(super) fn tick_of(&self, coarse: u16) -> u32 {
        ((self.tick >> COARSE).wrapping_add(u32::from(self.coarse_until(coarse)))) << COARSE
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_count_all_microseconds_and_deadlines_never_come_early() {
        let mut clock = Clock::new(Instant::from_ticks(u32::MAX - 5_000));
        let mut dice = 7_u32;
        let mut passed = 0_u32;
        for _ in 0..20_000 {
            dice = dice.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let wait = dice >> 12;
            let (tick, coarse, begun) = (clock.tick_in(wait), clock.coarse_in(wait), passed);
            assert!(clock.until(tick).abs_diff(wait) < 256 && clock.until(tick) >= wait);
            let due = clock.until(clock.tick_of(coarse));
            assert!(due >= wait && due < wait + 2 * 4_096, "{due} for {wait}");
            let span = (dice >> 8) & 0x3FFF;
            let now = Instant::from_ticks(clock.last.wrapping_add(span));
            assert_eq!(clock.step(now).as_ticks(), span);
            passed = passed.wrapping_add(span);
            assert_eq!(clock.micros(), passed);
            assert_eq!(clock.has_come(coarse), passed.wrapping_sub(begun) >= due);
        }
        let early = Instant::from_ticks(clock.last.wrapping_sub(900_000));
        assert_eq!((clock.step(early).as_ticks(), clock.micros()), (0, passed), "a late stamp");
    }
}
