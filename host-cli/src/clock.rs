//! The one clock of the tool: nanoseconds since the Unix epoch that never step back while the program runs.

use std::{
    sync::LazyLock,
    time::{Instant, SystemTime, UNIX_EPOCH},
};

/// The calendar time at the first look, and the steady clock then.
static START: LazyLock<(u64, Instant)> = LazyLock::new(|| {
    let since_epoch = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
    (u64::try_from(since_epoch.as_nanos()).unwrap_or(u64::MAX), Instant::now())
});

/// Nanoseconds since the Unix epoch: the calendar time at the start of the program plus the steady time since then. A clock set anew
/// meanwhile makes no step here.
#[must_use]
pub fn now() -> u64 {
    let (start, steady) = *START;
    start.saturating_add(u64::try_from(steady.elapsed().as_nanos()).unwrap_or(u64::MAX))
}

/// A time in nanoseconds since the Unix epoch on the core's wrapping clock of microseconds.
#[must_use]
pub fn on_the_link(at: u64) -> bellwire::time::Instant {
    #[expect(clippy::cast_possible_truncation, reason = "the core's clock wraps")]
    bellwire::time::Instant::from_ticks((at / 1000) as u32)
}
