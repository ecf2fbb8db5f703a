//! Small worlds searched whole.

use std::{collections::HashSet, vec, vec::Vec};

use super::*;

/// What may happen to a dead-man in one step of the small world below.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum Step {
    Tick,
    News(i8),
    Rearm,
    Hold,
    Ended,
    Mismatch,
    Opened,
}

const STEPS: [Step; 8] = [
    Step::Tick,
    Step::News(0),
    Step::News(1),
    Step::Rearm,
    Step::Hold,
    Step::Ended,
    Step::Mismatch,
    Step::Opened,
];

/// The rule of the design, told again in another way: a history that is searched backward at each question.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
struct Oracle {
    /// Everything since boot, newest last, each with its time.
    history: Vec<(u32, Step)>,
}

impl Oracle {
    /// The newest set-point that counts at `now`: no end, hold or bar since, and no gap of the limit since.
    fn news(&self, now: u32) -> Option<i8> {
        let barred = self.is_barred_at(self.history.len());
        let (index, (time, value)) =
            self.history.iter().enumerate().rev().find_map(|(index, (time, step))| match step {
                Step::News(value) if !self.is_barred_at(index) => Some((index, (*time, *value))),
                _ => None,
            })?;
        let cut = self.history[index..]
            .iter()
            .any(|(_, step)| matches!(step, Step::Hold | Step::Ended | Step::Mismatch));
        (!barred && !cut && now < time + LIMIT).then_some(value)
    }

    /// Whether a mismatch stood before entry `index`.
    fn is_barred_at(&self, index: usize) -> bool {
        self.history[..index].iter().rev().find_map(|(_, step)| match step {
            Step::Mismatch => Some(true),
            Step::Opened => Some(false),
            _ => None,
        }) == Some(true)
    }

    /// Whether the newest set-point drives: since some act on a fresh stop value nothing has broken the chain.
    fn drives(&self, now: u32) -> Option<i8> {
        let value = self.news(now)?;
        for (index, (time, step)) in self.history.iter().enumerate().rev() {
            let before = Self { history: self.history[..index].to_vec() };
            match step {
                Step::Rearm if before.news(*time) == Some(0) => return Some(value),
                // A chain of set-points without a gap: when this one came the one before was still fresh.
                Step::News(_) if before.news(*time).is_none() => return None,
                Step::Hold | Step::Ended | Step::Mismatch => return None,
                _ => {}
            }
        }
        None
    }
}

/// Every sequence of the eight steps up to length 6 (299 592 sequences), limit 3 ticks, against the oracle.
#[test]
fn all_short_histories_agree_with_the_oracle() {
    fn explore(
        dead_man: &DeadMan<i8>,
        oracle: &Oracle,
        now: u32,
        depth: u32,
        motions: &mut HashSet<&'static str>,
    ) -> u32 {
        let mut count = 0;
        for step in STEPS {
            let (mut next, mut told, mut time) = (dead_man.clone(), oracle.clone(), now);
            match step {
                Step::Tick => time += 1,
                Step::News(value) => next.handle_set_point(value, at(time)),
                Step::Rearm => {
                    assert_eq!(
                        next.rearm(at(time)).is_ok(),
                        told.drives(time).is_some() || told.news(time) == Some(0),
                        "{told:?}"
                    );
                }
                Step::Hold => next.hold(),
                Step::Ended => next.handle_event(&Event::Ended(EndReason::Silence)),
                Step::Mismatch => next.handle_event(&mismatch()),
                Step::Opened => next.handle_event(&opened()),
            }
            if step != Step::Tick {
                told.history.push((time, step));
            }
            let drives = told.drives(time);
            assert_eq!(next.output(at(time)), drives.unwrap_or(0), "{told:?}");
            assert_eq!(next.motion() == Motion::Running, drives.is_some(), "{told:?}");
            motions.insert(next.motion().name());
            count += 1;
            if depth > 1 {
                count += explore(&next, &told, time, depth - 1, motions);
            }
        }
        count
    }
    let start = DeadMan::new(0, span(LIMIT), Stop::Brake);
    let mut motions = HashSet::new();
    let count = explore(&start, &Oracle { history: vec![] }, 0, 6, &mut motions);
    assert_eq!(count, (1..=6).map(|n| 8_u32.pow(n)).sum::<u32>());
    assert_eq!(motions.len(), 4, "{motions:?}");
}

/// The whole state space with a limit of 3 ticks, from boot: states repeat, so the search ends, and in none of them does anything but
/// [`DeadMan::rearm`] start a motion.
#[test]
fn only_rearming_starts_a_motion_in_any_reachable_state() {
    let now = 1000;
    let mut seen = HashSet::new();
    let mut open = vec![DeadMan::new(0_i8, span(LIMIT), Stop::Brake)];
    while let Some(state) = open.pop() {
        let age = state.poll_wake().map_or(0, |wake| now + LIMIT - wake.as_ticks());
        let was_running = state.motion() == Motion::Running;
        for step in STEPS {
            // Moves the state back to `now` by handing it its own age.
            let mut next = state.clone();
            let mut time = now;
            match step {
                Step::Tick => {
                    time += 1;
                    let _ = next.output(at(time));
                }
                Step::News(value) => next.handle_set_point(value, at(now)),
                Step::Rearm => drop(next.rearm(at(now))),
                Step::Hold => next.hold(),
                Step::Ended => next.handle_event(&Event::Ended(EndReason::Closed)),
                Step::Mismatch => next.handle_event(&mismatch()),
                Step::Opened => next.handle_event(&opened()),
            }
            let runs = next.motion() == Motion::Running;
            assert!(was_running || step == Step::Rearm || !runs, "{state:?} {step:?}");
            assert!(age < LIMIT);
            let _ = next.check(at(time));
            if let Some(wake) = next.poll_wake() {
                // The same state, looked at from the time `now` again.
                let shift = time - now;
                let mut moved = rebuilt(&next, wake.as_ticks() - shift);
                let _ = moved.check(at(now));
                assert_eq!(moved, next);
                next = moved;
            }
            if seen.insert(next.clone()) {
                open.push(next);
            }
        }
    }
    assert_eq!(seen.len(), STATES, "the number of reachable states, told apart by age");
}

/// Held 4 (boot, end, mismatch, operator), stale 5 (these and no news), re-arm 5 reasons x 2 values x 3 ages, running 2 values x 3 ages.
const STATES: usize = 4 + 5 + 5 * 2 * 3 + 2 * 3;

/// `state` with its set-point lapsing at `wake`.
fn rebuilt(state: &DeadMan<i8>, wake: u32) -> DeadMan<i8> {
    state.moved(at(wake.wrapping_sub(LIMIT)))
}
