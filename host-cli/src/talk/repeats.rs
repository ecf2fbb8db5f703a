//! Refusals that come in numbers, told once and then counted.

use std::time::{Duration, Instant};

use bellwire::frame::Reject;

use super::Happening;

/// The first count comes after this time; each further one after twice the time before.
const FIRST: Duration = Duration::from_secs(1);
/// But never later than this.
const LONGEST: Duration = Duration::from_secs(60);

/// Counts refusals like the last one that was told.
#[derive(Debug, Default)]
pub struct Repeats {
    last: Option<Run>,
}

#[derive(Debug)]
struct Run {
    reject: Reject,
    since: Instant,
    window: Duration,
    more: u64,
}

impl Repeats {
    /// Whether this is one more of what was told already; it is counted then.
    pub fn swallows(&mut self, happening: &Happening, now: Instant) -> bool {
        let Happening::Refused(reject) = happening else { return false };
        match &mut self.last {
            Some(run) if run.reject == *reject => {
                run.more += 1;
                true
            }
            last => {
                *last = Some(Run { reject: *reject, since: now, window: FIRST, more: 0 });
                false
            }
        }
    }

    /// The count, when it is due at `now`: its time is over, or `next` is something else.
    pub fn due(&mut self, next: Option<&Happening>, now: Instant) -> Option<String> {
        let run = self.last.as_mut()?;
        let other =
            next.is_some_and(|next| !matches!(next, Happening::Refused(reject) if *reject == run.reject));
        let passed = now.saturating_duration_since(run.since);
        if passed < run.window && !other {
            return None;
        }
        if run.more == 0 {
            self.last = None;
            return None;
        }
        let text = format!("and {} more in the last {:.1} s: {}", run.more, passed.as_secs_f64(), run.reject);
        run.window = (run.window * 2).min(LONGEST);
        (run.since, run.more) = (now, 0);
        Some(text)
    }

    /// The count that is left at the end.
    pub fn rest(&mut self, now: Instant) -> Option<String> {
        self.due(Some(&Happening::End), now)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_flood_is_told_once_and_counted_and_another_refusal_is_told() {
        let (mut repeats, start) = (Repeats::default(), Instant::now());
        let at = |ms| start + Duration::from_millis(ms);
        let (flood, other) = (Happening::Refused(Reject::NotOpen), Happening::Refused(Reject::BadFcs));
        assert!(!repeats.swallows(&flood, at(0)));
        for ms in 1..=41 {
            assert_eq!(repeats.due(Some(&flood), at(ms)), None);
            assert!(repeats.swallows(&flood, at(ms)));
        }
        let text = repeats.due(None, at(1000)).unwrap_or_default();
        assert!(text.starts_with("and 41 more in the last 1.0 s: not open"), "{text}");
        assert!(repeats.swallows(&flood, at(1500)));
        assert_eq!(repeats.due(None, at(2500)), None, "the second count comes after two seconds");
        let text = repeats.due(Some(&other), at(2600)).unwrap_or_default();
        assert!(text.starts_with("and 1 more in the last 1.6 s"), "{text}");
        assert!(!repeats.swallows(&other, at(2600)));
        assert_eq!(repeats.rest(at(2700)), None);
    }
}
