//! The dead-man itself.

use core::hash::{Hash, Hasher};

use super::{RearmError, Reason, Stop};
use crate::{
    link::{EndReason, Event},
    time::{Duration, Instant, after},
};

/// The longest freshness limit: 2^30 - 1 µs (17 min 53 s). Longer ones are cut to it.
pub const LONGEST_LIMIT: Duration = Duration::from_ticks(0x3FFF_FFFF);

/// What a dead-man does now.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Motion {
    /// Stopped; no set-point has been taken since the reason arose.
    Held(Reason),
    /// The newest set-point drives.
    Running,
    /// Stopped; set-points came, and ceased.
    Stale(Reason),
    /// Stopped although set-points are fresh: they must be at the stop value, then an operator must re-arm.
    MustRearm(Reason),
}

impl Motion {
    /// In lower case: `held`, `running`, `stale`, `re-arm`.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Held(_) => "held",
            Self::Running => "running",
            Self::Stale(_) => "stale",
            Self::MustRearm(_) => "re-arm",
        }
    }

    /// Why it is stopped; `None` while running.
    #[must_use]
    pub const fn reason(self) -> Option<Reason> {
        match self {
            Self::Running => None,
            Self::Held(reason) | Self::Stale(reason) | Self::MustRearm(reason) => Some(reason),
        }
    }
}

/// Lets a set-point drive an actuator only while news of it is fresh.
///
/// # Grammar
/// `handle_*` takes what comes from the link, with the time the octets arrived; [`output`](Self::output) gives what drives the actuator now;
/// [`check`](Self::check) tells each trip once, for a log or an alarm; [`poll_wake`](Self::poll_wake) says when to look again.
/// [`hold`](Self::hold) and [`rearm`](Self::rearm) are the acts of an operator. All take the time from the caller.
///
/// # The rule
/// It starts held, never running. A set-point that arrived at *t* is fresh in *t ≤ now < t + limit*; at *t + limit*, to the microsecond, it trips:
/// the output is the stop value and the set-point is forgotten. From then on set-points alone move nothing. A *stop value* must be the newest
/// fresh set-point, and then [`rearm`](Self::rearm) must be called by an operator's act (an errand of the operator or a local button), never
/// by the library, a reconnect or a restart. The same holds after the end of a session, a mismatch, and [`hold`](Self::hold).
///
/// A set-point may be stamped later than the `now` of the next call by as much as the limit: the stamp is taken in an interrupt, and `now` may
/// have been read just before it.
///
/// # How often
/// Call [`output`](Self::output) or [`check`](Self::check) at least every [`LONGEST`](crate::time::LONGEST) (35 min 47 s), for the clock wraps. Within that it
/// trips however late it is asked. In practice the actuator stops when it is *told*, so the period of the control loop adds to the limit.
///
#[doc = include_str!("caution.md")]
///
/// # Example
/// ```
/// use bellwire::setpoint::{DeadMan, Motion, RearmError, Reason, Stop};
/// use bellwire::time::{Duration, Instant};
///
/// let ms = |ms: u32| Instant::from_ticks(ms * 1000);
/// let mut rate = DeadMan::new(0_i16, Duration::from_ticks(500_000), Stop::Brake);
/// assert_eq!(rate.motion(), Motion::Held(Reason::Boot));
/// rate.handle_set_point(40, ms(0));
/// assert_eq!(rate.rearm(ms(1)), Err(RearmError::NotAtStop));
/// rate.handle_set_point(0, ms(100));
/// assert_eq!(rate.rearm(ms(101)), Ok(()));
/// rate.handle_set_point(40, ms(200));
/// assert_eq!(rate.output(ms(699)), 40);
/// assert_eq!(rate.output(ms(700)), 0);
/// assert_eq!(rate.check(ms(700)), Some(Reason::NoNews));
/// ```
#[derive(Debug, Clone)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct DeadMan<T> {
    stop_value: T,
    stop: Stop,
    limit: Duration,
    motion: Motion,
    /// The newest fresh set-point; always there while running.
    news: Option<T>,
    /// When it arrived.
    arrived: Instant,
    /// The last time handed in: only the difference to `arrived` is compared.
    seen: Instant,
    /// A trip that [`DeadMan::check`] has not told yet.
    untold: Option<Reason>,
}

impl<T: Copy + PartialEq> DeadMan<T> {
    /// A dead-man, held since boot. `stop_value` is what it gives when stopped, `limit` how long a set-point drives after its arrival (at most
    /// [`LONGEST_LIMIT`]; with zero it never moves), `stop` what stopping means.
    #[must_use]
    pub const fn new(stop_value: T, limit: Duration, stop: Stop) -> Self {
        let limit = if limit.as_ticks() > LONGEST_LIMIT.as_ticks() { LONGEST_LIMIT } else { limit };
        Self {
            stop_value,
            stop,
            limit,
            motion: Motion::Held(Reason::Boot),
            news: None,
            arrived: Instant::from_ticks(0),
            seen: Instant::from_ticks(0),
            untold: None,
        }
    }

    /// Takes a new valid set-point that arrived at `arrived`.
    ///
    /// Feed it only what the link delivered as a set-point and what decoded without error. If the one before had lapsed by then, this trips first.
    pub fn handle_set_point(&mut self, value: T, arrived: Instant) {
        self.look(arrived);
        if self.motion == Motion::Held(Reason::Mismatch) {
            return;
        }
        self.news = Some(value);
        self.arrived = arrived;
        if let Motion::Held(reason) | Motion::Stale(reason) = self.motion {
            self.motion = Motion::MustRearm(reason);
        }
    }

    /// Takes an event of the link: the end of a session and a mismatch hold, an opening lets set-points in again. Other events change nothing.
    ///
    /// It does not feed set-points: those are yours to decode, see [`DeadMan::handle_set_point`].
    pub fn handle_event(&mut self, event: &Event<'_>) {
        match event {
            Event::Ended(EndReason::Mismatch) | Event::Mismatch { .. } => self.hold_for(Reason::Mismatch),
            Event::Ended(reason) => self.hold_for(Reason::LinkEnded(*reason)),
            Event::Opened(_) => self.handle_opened(),
            _ => {}
        }
    }

    /// The link is open with a matching agreement: after a mismatch set-points are taken again (and still move nothing before [`DeadMan::rearm`]).
    fn handle_opened(&mut self) {
        if self.motion == Motion::Held(Reason::Mismatch) {
            self.motion = Motion::Stale(Reason::Mismatch);
        }
    }

    /// What drives the actuator now: the newest set-point while running, else the stop value. Trips if it is time.
    #[must_use = "the actuator stops only if it is told"]
    pub fn output(&mut self, now: Instant) -> T {
        self.look(now);
        match (self.motion, self.news) {
            (Motion::Running, Some(value)) => value,
            _ => self.stop_value,
        }
    }

    /// Trips if it is time, and tells each stop out of motion once, with its reason.
    #[must_use = "each trip is told once"]
    pub fn check(&mut self, now: Instant) -> Option<Reason> {
        self.look(now);
        self.untold.take()
    }

    /// Stops at once and holds, by an operator's act or a danger on the board itself.
    pub fn hold(&mut self) {
        self.hold_for(Reason::Operator);
    }

    /// Lets set-points drive again. To be called by an operator's act only; does nothing while running.
    ///
    /// # Errors
    /// What is missing: [`RearmError`].
    pub fn rearm(&mut self, now: Instant) -> Result<(), RearmError> {
        self.look(now);
        match (self.motion, self.news) {
            (Motion::Running, _) => Ok(()),
            (Motion::Held(Reason::Mismatch), _) => Err(RearmError::Mismatch),
            (_, None) => Err(RearmError::NoNews),
            (_, Some(value)) if value != self.stop_value => Err(RearmError::NotAtStop),
            (_, Some(_)) => {
                self.motion = Motion::Running;
                Ok(())
            }
        }
    }

    /// What it did when last called: held, running, stale or to be re-armed, with the reason.
    #[must_use]
    pub const fn motion(&self) -> Motion {
        self.motion
    }

    /// What stopping means for this actuator.
    #[must_use]
    pub const fn stop(&self) -> Stop {
        self.stop
    }

    /// How long a set-point drives after its arrival.
    #[must_use]
    pub const fn limit(&self) -> Duration {
        self.limit
    }

    /// When the newest set-point lapses; `None` if there is none. Look again no later than this.
    #[must_use]
    pub fn poll_wake(&self) -> Option<Instant> {
        self.news.map(|_| after(self.arrived, self.limit))
    }

    /// Forgets the set-point if it has lapsed.
    fn look(&mut self, now: Instant) {
        self.seen = now;
        if self.news.is_none() || self.is_fresh(now) {
            return;
        }
        self.news = None;
        match self.motion {
            Motion::Running => {
                self.motion = Motion::Stale(Reason::NoNews);
                self.untold = Some(Reason::NoNews);
            }
            Motion::MustRearm(reason) => self.motion = Motion::Stale(reason),
            Motion::Held(_) | Motion::Stale(_) => {}
        }
    }

    /// Whether the set-point is fresh: younger than the limit, or stamped ahead of `now` by no more than the limit.
    fn is_fresh(&self, now: Instant) -> bool {
        let limit = self.limit.as_ticks();
        let age = now.as_ticks().wrapping_sub(self.arrived.as_ticks());
        age < limit || age.wrapping_neg() <= limit && age != 0
    }

    fn hold_for(&mut self, reason: Reason) {
        if self.motion == Motion::Running {
            self.untold = Some(reason);
        }
        self.news = None;
        // A mismatch stays until a matching peer opens, whatever else happens meanwhile.
        if self.motion != Motion::Held(Reason::Mismatch) {
            self.motion = Motion::Held(reason);
        }
    }

    /// The same dead-man whose set-point arrived at another time.
    #[cfg(test)]
    pub(super) fn moved(&self, arrived: Instant) -> Self {
        Self { arrived, ..self.clone() }
    }

    /// The age of the news when last looked at: what is compared in place of two absolute times.
    fn age(&self) -> Option<(T, u32)> {
        self.news.map(|value| (value, self.seen.as_ticks().wrapping_sub(self.arrived.as_ticks())))
    }
}

/// Equal if they go on alike: absolute time does not count, the age of the set-point does.
impl<T: Copy + PartialEq> PartialEq for DeadMan<T> {
    fn eq(&self, other: &Self) -> bool {
        self.stop_value == other.stop_value
            && self.stop == other.stop
            && self.limit == other.limit
            && self.motion == other.motion
            && self.untold == other.untold
            && self.age() == other.age()
    }
}

impl<T: Copy + Eq> Eq for DeadMan<T> {}

impl<T: Copy + PartialEq + Hash> Hash for DeadMan<T> {
    fn hash<H: Hasher>(&self, state: &mut H) {
        self.stop_value.hash(state);
        self.stop.hash(state);
        self.limit.as_ticks().hash(state);
        self.motion.hash(state);
        self.untold.hash(state);
        self.age().hash(state);
    }
}
