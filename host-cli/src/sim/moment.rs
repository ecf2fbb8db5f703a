//! Virtual time: nanoseconds from the start of a run, so that octets of any baud rate are paced exactly.

use bellwire::time::{Duration as Span, Instant, LONGEST};

/// A point in virtual time: nanoseconds from the start of the run, 64 bits (584 years).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
pub struct Moment(u64);

impl Moment {
    /// The start of the run.
    pub const START: Self = Self(0);

    /// `nanos` after the start.
    #[must_use]
    pub const fn from_nanos(nanos: u64) -> Self {
        Self(nanos)
    }

    /// `micros` after the start.
    #[must_use]
    pub const fn from_micros(micros: u64) -> Self {
        Self(micros.saturating_mul(1_000))
    }

    /// `millis` after the start.
    #[must_use]
    pub const fn from_millis(millis: u64) -> Self {
        Self(millis.saturating_mul(1_000_000))
    }

    /// Nanoseconds since the start.
    #[must_use]
    pub const fn nanos(self) -> u64 {
        self.0
    }

    /// This moment and `span` more.
    #[must_use]
    pub fn plus(self, span: core::time::Duration) -> Self {
        Self(self.0.saturating_add(u64::try_from(span.as_nanos()).unwrap_or(u64::MAX)))
    }

    /// The time since `earlier`, zero if that lies later.
    #[must_use]
    pub const fn since(self, earlier: Self) -> core::time::Duration {
        core::time::Duration::from_nanos(self.0.saturating_sub(earlier.0))
    }

    /// As a board's clock shows it: microseconds, 32 bits, wrapping, zero at the start of the run.
    #[must_use]
    #[allow(clippy::cast_possible_truncation, reason = "the board's clock wraps by design")]
    pub const fn instant(self) -> Instant {
        Instant::from_ticks((self.0 / 1_000) as u32)
    }

    /// The moment at which a board's clock shows `instant`, seen from now: less than half a turn of the clock ahead, or now if
    /// it has passed.
    #[must_use]
    pub const fn of(self, instant: Instant) -> Self {
        let ahead = instant.as_ticks().wrapping_sub(self.instant().as_ticks());
        if ahead == 0 || ahead > LONGEST.as_ticks() {
            return self;
        }
        Self((self.0 / 1_000 + ahead as u64) * 1_000)
    }
}

/// A core duration as the standard library's.
#[must_use]
pub const fn long(span: Span) -> core::time::Duration {
    core::time::Duration::from_micros(span.as_ticks() as u64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_instant_of_the_board_is_found_again_before_and_after_its_clock_wraps() {
        for micros in [0, 1, 999, 4_294_967_290, 4_294_967_296, 12_345_678_901] {
            let now = Moment::from_nanos(micros * 1_000 + 7);
            for ahead in [1_u32, 20, 1_000_000, LONGEST.as_ticks()] {
                let wanted = bellwire::time::after(now.instant(), Span::from_ticks(ahead));
                assert_eq!(now.of(wanted), Moment::from_micros(micros + u64::from(ahead)));
            }
            assert_eq!(now.of(now.instant()), now);
            assert_eq!(now.of(Instant::from_ticks(now.instant().as_ticks().wrapping_sub(5))), now);
        }
    }
}
