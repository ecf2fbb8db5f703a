//! Time as the crate sees it: handed in by the caller, one microsecond a tick, 32 bits, wrapping.
//!
//! An [`Instant`] wraps after 2^32 µs (71 min 35 s). Two instants can be compared while they lie less than half of that
//! apart, so a link must be served at least every [`LONGEST`] (35 min 47 s); [`elapsed`] takes a step backward as no time at all.

/// A point in time: a wrapping count of microseconds from any origin.
pub type Instant = fugit::WrappingTimerInstantU32<1_000_000>;

/// A span of time in microseconds, at most [`LONGEST`] where it is compared with instants.
pub type Duration = fugit::MicrosDurationU32;

/// The longest span that two instants can be apart: 2^31 - 1 µs.
pub const LONGEST: Duration = Duration::from_ticks(0x7FFF_FFFF);

/// The time from `since` to `now`; zero if `now` lies before `since` (a clock that stepped back).
#[inline]
#[must_use]
pub const fn elapsed(now: Instant, since: Instant) -> Duration {
    let ticks = now.as_ticks().wrapping_sub(since.as_ticks());
    if ticks > LONGEST.as_ticks() { Duration::from_ticks(0) } else { Duration::from_ticks(ticks) }
}

/// The instant `span` after `now`, wrapping.
#[inline]
#[must_use]
pub const fn after(now: Instant, span: Duration) -> Instant {
    Instant::from_ticks(now.as_ticks().wrapping_add(span.as_ticks()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn elapsed_holds_across_the_wrap_and_stops_at_half_the_range() {
        let late = Instant::from_ticks(u32::MAX - 9);
        assert_eq!(elapsed(after(late, Duration::from_ticks(30)), late).as_ticks(), 30);
        assert_eq!(elapsed(after(late, LONGEST), late), LONGEST);
        assert_eq!(elapsed(after(late, Duration::from_ticks(0x8000_0000)), late).as_ticks(), 0);
        assert_eq!(elapsed(late, after(late, Duration::from_ticks(1))).as_ticks(), 0);
    }
}
