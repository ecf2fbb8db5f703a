//! What all lanes of a hub share: the medium and its buffer, the pool, time, counters. Here a lane meets what happens to it.

use core::marker::PhantomData;

use super::{
    HubConfig,
    answers::Answers,
    challenges::Challenges,
    clock::Clock,
    epochs::Epochs,
    flags::Flag,
    lane::{Lane, Owed},
    lasts::Lasts,
    news::News,
    pool::Pool,
};
use crate::{
    fcs::Fcs,
    frame::Reject,
    framing::{Framing, order::Order as LineOrder, order::Room},
    link::{A_QUARTER, Link, apart::Apart, line::Line, receiver::Receiver, stated::Stated},
    retry::{Dice, Policy, Retry},
    rtt::Bounds,
    star::{Addressed, Join, Welcome},
    stats::Statistics,
    time::{Duration, Instant},
};

/// The link that a leaf has at its end, whose timing rules a lane keeps too.
pub(super) type Twin<F, C, const FRAME: usize> = Link<Addressed<F>, C, FRAME, 1, 1>;

#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(super) struct Common<F: Framing, C, const POOL: usize, const FRAME: usize> {
    pub(super) clock: Clock,
    pub(super) epochs: Epochs,
    pub(super) line: Line,
    pub(super) stated: Stated,
    /// Messages that may wait for one leaf.
    pub(super) queue: u8,
    /// The leaf that was heard last and not asked for since; 0: none.
    pub(super) heard: u8,
    /// A board asks to be taken on the roster (W-60).
    pub(super) join: Option<Join>,
    /// The answer to one.
    pub(super) welcome: Option<Welcome>,
    /// The largest own number of any lane.
    pub(super) highest: u32,
    /// T_open at first, and T_min, µs.
    t_open: u32,
    pub(super) t_min: u32,
    /// The time of one largest frame.
    largest_frame: u32,
    pub(super) news: News,
    pub(super) challenges: Challenges,
    pub(super) answers: Answers<FRAME>,
    pub(super) lasts: <F::Order as LineOrder>::Room<Lasts>,
    pub(super) dice: Apart<Dice>,
    pub(super) statistics: Apart<Statistics>,
    pub(super) receiver: Receiver<F, FRAME>,
    pub(super) pool: Pool<POOL, FRAME>,
    fcs: PhantomData<C>,
}

impl<F: Framing, C: Fcs, const POOL: usize, const FRAME: usize> Common<F, C, POOL, FRAME> {
    pub(super) fn new(framing: F, config: &HubConfig, now: Instant) -> Self {
        let line = Line::new(config.octet_rate);
        let lifetime = if F::ORDERED { 0 } else { config.lifetime.as_ticks() };
        let max_payload = Twin::<F, C, FRAME>::MAX_PAYLOAD;
        Self {
            clock: Clock::new(now),
            epochs: Epochs::new(lifetime),
            line,
            stated: Stated::new(&config.of_link()),
            queue: config.queue.max(1),
            heard: 0,
            join: None,
            welcome: None,
            highest: config.own,
            t_open: Twin::<F, C, FRAME>::t_open_on(&line, lifetime).as_ticks(),
            t_min: Twin::<F, C, FRAME>::open_frame(&line).saturating_mul(2).max(5_000),
            largest_frame: Twin::<F, C, FRAME>::largest_frame(&line, max_payload).as_ticks(),
            news: News::default(),
            challenges: Challenges::default(),
            answers: Answers::NONE,
            lasts: Room::with(Lasts::default),
            dice: Apart(Dice::new(config.jitter_seed)),
            statistics: Apart(Statistics::new()),
            receiver: Receiver::new(framing),
            pool: Pool::new(),
            fcs: PhantomData,
        }
    }

    /// Time passes.
    #[inline]
    pub(super) fn advance(&mut self, now: Instant) {
        if now != self.clock.last() {
            self.step(now);
        }
    }

    #[inline(never)]
    pub(super) fn step(&mut self, now: Instant) {
        let span = self.clock.step(now);
        if span.as_ticks() > 0 {
            self.statistics.elapse(span);
            self.line.elapse(span);
            self.answers.elapse(span);
            if !F::ORDERED {
                let ended = self.epochs.elapse(span);
                if let Some(lasts) = self.lasts.get_mut().filter(|_| ended > 0) {
                    lasts.elapse(ended);
                }
            }
        }
    }

    /// Whether something waits to be told.
    pub(super) fn has_news(&self) -> bool {
        self.receiver.found.is_some() || self.news.any() || self.pool.has_told()
    }

    /// Counts a reject and tells it.
    #[inline(never)]
    pub(super) fn refuse(&mut self, reject: Reject) {
        self.statistics.refuse(reject);
        self.news.refuse(reject);
    }

    /// How confirmed messages are tried again (W-37, W-50).
    pub(super) fn item_policy(&self) -> Policy {
        let ceiling = Twin::<F, C, FRAME>::CEILING.as_ticks();
        Policy { tries: Some(self.stated.tries), ceiling, spread: A_QUARTER }
    }

    /// How asking is repeated (T_open).
    pub(super) fn opening_policy(&self) -> Policy {
        Twin::<F, C, FRAME>::policy_of(Duration::from_ticks(self.t_open))
    }

    pub(super) fn fresh_opening(&mut self) -> Retry {
        let policy = self.opening_policy();
        Retry::spread(Duration::from_ticks(self.t_open), &policy, &mut self.dice)
    }

    /// Something valid is heard while down: asking goes back to its first pace.
    pub(super) fn hasten_opening(&mut self, lane: &mut Lane) {
        if !lane.session.is_up() && !lane.has(Flag::Stranger) {
            lane.retry = self.fresh_opening().waiting(lane.retry.left());
        }
    }

    /// Prompts an OPEN that asks, at most once in so many microseconds (W-27, W-32).
    pub(super) fn prompt(&self, lane: &mut Lane, pause: u32) {
        if !lane.has(Flag::Prompted) {
            lane.set(Flag::Prompted, true);
            lane.prompt = self.clock.coarse_in(pause);
            lane.owed = Owed::Ask;
        }
    }

    pub(super) const fn t_open(&self) -> u32 {
        self.t_open
    }

    /// The time-out of a confirmed message to this leaf before any back-off (W-49).
    pub(super) fn time_out(&self, lane: &Lane) -> Duration {
        let max_payload = usize::from(lane.max_payload);
        let largest_frame = if max_payload >= Twin::<F, C, FRAME>::MAX_PAYLOAD {
            Duration::from_ticks(self.largest_frame)
        } else {
            Twin::<F, C, FRAME>::largest_frame(&self.line, max_payload)
        };
        lane.estimator.time_out(&Bounds::of_line(largest_frame, Twin::<F, C, FRAME>::CEILING))
    }

    /// How long the leaf may be silent, µs: what it promises and one time-out. 0: for ever.
    pub(super) fn longest_silence(&self, lane: &Lane) -> u32 {
        match lane.promise().as_ticks() {
            0 => 0,
            promised => promised.saturating_add(self.time_out(lane).as_ticks()),
        }
    }

    /// A frame is sent: the keep-alive starts anew (W-34).
    pub(super) fn keep_alive(&self, lane: &mut Lane) {
        if lane.has(Flag::Sleeps) {
            return;
        }
        lane.keep_alive = self.clock.coarse_in(self.stated.keep_alive);
    }

    pub(super) fn restart_silence(&self, lane: &mut Lane) {
        lane.silence = self.clock.coarse_in(self.longest_silence(lane));
    }

    /// How long a waiting set-point is held back because too much is unsent before it (W-46), and everything else with it.
    pub(super) fn set_point_hold(&self) -> Option<Duration> {
        let allowed = self.line.time(usize::from(self.stated.set_point_backlog)).as_ticks();
        let excess = self.line.busy().as_ticks().checked_sub(allowed).filter(|&excess| excess > 0)?;
        self.pool.set_point_waits().then_some(Duration::from_ticks(excess))
    }
}
