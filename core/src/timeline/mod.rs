//! One timeline for several boards: how far a far clock is from the own one, how fast it drifts, and how wrong that may be.
//!
//! Each exchange of W-51 gives four [`Stamps`]; their offset and delay are those of RFC 5905 section 8. A [`Timeline`] keeps an *interval*
//! in which the true offset lies: the delay bounds a single exchange (however lopsided the two ways are), a stated limit on the drift bounds what happens
//! in between, and every further exchange can only narrow it. Where two intervals do not meet, the far clock has stepped, and the timeline starts anew.
//!
//! All clocks are wrapping 32-bit counts of microseconds; the offset wraps with them, so a wrap of either clock changes nothing.

mod exchange;
mod stamps;

pub use exchange::{Asker, LONGEST_EXCHANGE, REQUEST_LEN, Refused, TIME_LEN, answer};
pub use stamps::Stamps;

use crate::time::{Duration, Instant, elapsed};

/// What the two clocks can be relied on for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Clocks {
    /// The largest drift between them, parts per million, 1..=100 000: two crystals of ±20 ppm each drift 40 at most at 25 °C; an RC oscillator needs 20 000
    /// and more. RFC 5905 assumes 15 (its PHI), which holds for no cheap crystal out in the cold.
    pub drift_limit: u32,
    /// By how much a stamp may come late, µs: the tick of the coarser clock and the time from the event to its reading.
    pub precision: u32,
}

/// An estimate and how wrong it may be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Offset {
    /// What to add to the own clock to get the far one, µs, wrapping.
    pub ticks: u32,
    /// The true offset is at most this far away, while the clocks keep what [`Clocks`] says.
    pub error: Duration,
}

/// How fast the far clock gains on the own one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Drift {
    /// Parts per billion; negative where the far clock is slower. A mean over the last minutes (see [`Timeline::drift`]).
    pub ppb: i32,
    /// That mean is at most this far away, parts per billion.
    pub error: u32,
}

/// A far instant on the own timeline.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Placed {
    /// When it was, by the own clock.
    pub at: Instant,
    /// It was at most this much earlier or later.
    pub error: Duration,
}

/// What an exchange did.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Taken {
    /// Nothing was known before.
    First,
    /// It agrees with what was known, and may have narrowed it.
    Agrees,
    /// It cannot be true of the clock that was known before: the far clock stepped, or drifts faster than stated. Begun anew.
    Stepped,
}

/// An interval of offsets, true at one instant of the own clock.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
struct Known {
    at: Instant,
    low: u32,
    width: u32,
}

/// Wider intervals than this tell nothing on a clock that wraps: 2^30 µs.
const WIDEST: u32 = 1 << 30;

/// A mean drift is taken over at least this long once it can be, and at most twice that: 2^29 µs (8 min 57 s).
const SPAN: Duration = Duration::from_ticks(1 << 29);

/// What is known of one far clock.
///
/// Ask for the time again well before [`LONGEST`](crate::time::LONGEST) (35 min 47 s), or [`restart`](Self::restart): a gap of more than that
/// cannot be told from a shorter one on a clock that wraps.
///
/// # Example
/// ```
/// use bellwire::time::{Duration, Instant};
/// use bellwire::timeline::{Clocks, Stamps, Taken, Timeline};
///
/// let at = Instant::from_ticks;
/// let mut mast = Timeline::new(Clocks { drift_limit: 50, precision: 1 });
/// // Sent at 1000 by our clock, heard at 1250 and answered at 1260 by the mast's, arrived at 1030 by ours.
/// let stamps = Stamps { sent: at(1000), heard: at(1250), answered: at(1260), arrived: at(1030) };
/// assert_eq!(mast.take(&stamps), Taken::First);
/// let offset = mast.offset(at(1030)).unwrap();
/// assert_eq!((offset.ticks, offset.error), (240, Duration::from_ticks(15)));
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Timeline {
    clocks: Clocks,
    known: Option<Known>,
    /// Where the mean drift counts from, and the place that will take over.
    anchor: Option<Known>,
    heir: Option<Known>,
}

impl Timeline {
    /// Nothing known yet.
    #[must_use]
    pub const fn new(clocks: Clocks) -> Self {
        Self { clocks, known: None, anchor: None, heir: None }
    }

    /// Forgets everything: the far board, or this one, has restarted its clock.
    pub const fn restart(&mut self) {
        *self = Self::new(self.clocks);
    }

    /// Takes the four stamps of one exchange ([`Asker::handle`] gives sound ones).
    pub fn take(&mut self, stamps: &Stamps) -> Taken {
        let news = stamps.interval(&self.clocks);
        let Some(before) = self.at(stamps.arrived) else {
            self.begin(news);
            return Taken::First;
        };
        let Some(both) = before.meet(&news) else {
            self.begin(news);
            return Taken::Stepped;
        };
        self.known = Some(both);
        self.move_anchor(both);
        Taken::Agrees
    }

    fn begin(&mut self, news: Known) {
        let news = Some(news).filter(|known| known.width < WIDEST);
        (self.known, self.anchor, self.heir) = (news, news, None);
    }

    fn move_anchor(&mut self, newest: Known) {
        let age = |known: Option<Known>| known.map(|known| elapsed(newest.at, known.at));
        if age(self.anchor) >= Some(SPAN) {
            match age(self.heir) {
                Some(age) if age >= SPAN => (self.anchor, self.heir) = (self.heir, Some(newest)),
                Some(_) => {}
                None => self.heir = Some(newest),
            }
        }
    }

    /// What is known, at a later instant.
    fn at(&self, now: Instant) -> Option<Known> {
        let known = self.known?;
        let grown = self.clocks.drift_in(elapsed(now, known.at));
        let width = known.width.saturating_add(grown.saturating_mul(2));
        (width < WIDEST).then_some(Known { at: now, low: known.low.wrapping_sub(grown), width })
    }

    /// The offset now; `None` before the first exchange, and when so long ago that it tells nothing any more.
    #[must_use]
    pub fn offset(&self, now: Instant) -> Option<Offset> {
        let known = self.at(now)?;
        // The mean drift moves the middle, though never out of the interval.
        let moved = self.drift().map_or(0, |drift| {
            let span = i64::from(elapsed(now, self.known.map_or(now, |known| known.at)).as_ticks());
            span.saturating_mul(i64::from(drift.ppb)) / 1_000_000_000
        });
        let middle = i64::from(known.width / 2).saturating_add(moved).clamp(0, i64::from(known.width));
        let middle = u32::try_from(middle).unwrap_or(known.width);
        let error = middle.max(known.width.saturating_sub(middle));
        Some(Offset { ticks: known.low.wrapping_add(middle), error: Duration::from_ticks(error) })
    }

    /// The mean drift between an exchange up to 18 minutes ago and the newest one; the further apart they are the better it is known. `None` before
    /// the second exchange.
    #[must_use]
    pub fn drift(&self) -> Option<Drift> {
        let (from, to) = (self.anchor?, self.known?);
        let span = i64::from(elapsed(to.at, from.at).as_ticks());
        let (least, most) = to.change_since(&from);
        let limit = i64::from(self.clocks.drift_limit).saturating_mul(1_000);
        let ppb = |change: i64| change.saturating_mul(1_000_000_000);
        let low = ppb(least).checked_div_euclid(span)?.clamp(limit.saturating_neg(), limit);
        let high = ppb(most).checked_div_euclid(span)?.saturating_add(1).clamp(limit.saturating_neg(), limit);
        let middle = low.saturating_add(high) / 2;
        let error = high.saturating_sub(middle).max(middle.saturating_sub(low));
        Some(Drift { ppb: i32::try_from(middle).ok()?, error: u32::try_from(error).ok()? })
    }

    /// Where an instant of the far clock, told around `now`, lies on the own timeline. It must lie within
    /// [`LONGEST`](crate::time::LONGEST) of now, before or after.
    #[must_use]
    pub fn place(&self, far: Instant, now: Instant) -> Option<Placed> {
        let offset = self.offset(now)?;
        let at = Instant::from_ticks(far.as_ticks().wrapping_sub(offset.ticks));
        let away = elapsed(now, at).max(elapsed(at, now));
        let error = offset.error.as_ticks().saturating_add(self.clocks.drift_in(away));
        Some(Placed { at, error: Duration::from_ticks(error) })
    }
}

impl Clocks {
    /// The most that the offset can change in `span`, µs, rounded up.
    fn drift_in(&self, span: Duration) -> u32 {
        let product = u64::from(span.as_ticks()).saturating_mul(u64::from(self.drift_limit));
        u32::try_from(product.div_ceil(1_000_000)).unwrap_or(u32::MAX)
    }
}

impl Known {
    /// What lies in both intervals, if anything does.
    fn meet(&self, other: &Self) -> Option<Self> {
        let shift = signed(other.low.wrapping_sub(self.low));
        let low = shift.max(0);
        let high = i64::from(self.width).min(shift.saturating_add(i64::from(other.width)));
        let width = u32::try_from(high.saturating_sub(low)).ok()?;
        let low = self.low.wrapping_add(u32::try_from(low).ok()?);
        Some(Self { at: other.at, low, width })
    }

    /// The least and the most that the offset can have changed since `earlier`, µs.
    fn change_since(&self, earlier: &Self) -> (i64, i64) {
        let lows = signed(self.low.wrapping_sub(earlier.low));
        (lows.saturating_sub(i64::from(earlier.width)), lows.saturating_add(i64::from(self.width)))
    }
}

/// A wrapped difference, as a number below or above zero.
const fn signed(difference: u32) -> i64 {
    difference.cast_signed() as i64
}

#[cfg(test)]
mod tests;
