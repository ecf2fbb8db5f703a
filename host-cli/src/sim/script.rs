//! A timed course of events: at nine seconds cut the wire, at eleven mend it.

use super::ids::{LineId, NodeId};
use super::line::Condition;
use super::moment::Moment;
use super::seed::Dice;
use core::ops::Range;
use core::time::Duration;
use std::collections::BTreeMap;

/// Something that happens to the network from outside.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Action {
    /// A wire is cut, mended or stuck.
    Wire(LineId, Condition),
    /// The next so many writes on a line are lost.
    Lose(LineId, u32),
    /// The next so many writes on a line have one bit turned over.
    Damage(LineId, u32),
    /// A board restarts; what its drivers had not sent yet is lost.
    Restart(NodeId),
    /// A person or the world does something to a board ([`super::Node::act`]).
    Act(NodeId, u32),
}

/// Actions in the order of their times; at equal times in the order in which they were written down.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Script {
    steps: BTreeMap<(Moment, usize), Action>,
    written: usize,
}

impl Script {
    /// An empty script.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// The script with one more action.
    #[must_use]
    pub fn at(mut self, moment: Moment, action: Action) -> Self {
        self.add(moment, action);
        self
    }

    /// Writes down one more action.
    pub fn add(&mut self, moment: Moment, action: Action) {
        self.steps.insert((moment, self.written), action);
        self.written += 1;
    }

    /// Writes down restarts of a board at random moments of a span, `mean` apart in the mean, so that one says nothing about the next (a Poisson process). Gives
    /// how many. A mean of less than a nanosecond counts as one.
    pub fn restart_at_random(
        &mut self,
        node: NodeId,
        mean: Duration,
        span: Range<Moment>,
        dice: &mut Dice,
    ) -> u64 {
        let mean = mean.max(Duration::from_nanos(1)).as_secs_f64();
        let mut count = 0;
        let mut at = span.start;
        loop {
            // More than 584 years ahead is never.
            let pause = Duration::try_from_secs_f64(mean * dice.exponential()).unwrap_or(Duration::MAX);
            at = at.plus(pause);
            if at >= span.end {
                return count;
            }
            self.add(at, Action::Restart(node));
            count += 1;
        }
    }

    /// When the next action is due.
    #[must_use]
    pub fn next(&self) -> Option<Moment> {
        self.steps.first_key_value().map(|((at, _), _)| *at)
    }

    /// Takes the next action that is due at `now`.
    pub fn take(&mut self, now: Moment) -> Option<Action> {
        if self.next()? <= now { self.steps.pop_first().map(|(_, action)| action) } else { None }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn actions_come_in_the_order_of_their_times_and_of_writing() {
        let mut script = Script::new()
            .at(Moment::from_millis(5), Action::Act(NodeId(0), 2))
            .at(Moment::from_millis(3), Action::Act(NodeId(0), 1))
            .at(Moment::from_millis(5), Action::Act(NodeId(0), 3));
        assert_eq!(script.take(Moment::from_millis(2)), None);
        let taken: Vec<_> = std::iter::from_fn(|| script.take(Moment::from_millis(9))).collect();
        assert_eq!(taken, [1, 2, 3].map(|act| Action::Act(NodeId(0), act)));
    }
}
