//! Waiting for one thing on a port.

use super::Port;
use crate::{
    fcs::Fcs,
    framing::Framing,
    io::Line,
    link::Event,
    time::{Duration, Instant, elapsed},
};

/// How [`Port::serve_until`] came to its end.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Finish {
    /// The event came.
    Done,
    /// The limit was reached first.
    LimitReached,
}

impl<L: Line, F: Framing, C: Fcs, const FRAME: usize, const WINDOW: usize, const QUEUE: usize>
    Port<L, F, C, FRAME, WINDOW, QUEUE>
{
    /// Services the port until an event of which `done` says so, or until `limit` (at most [`LONGEST`](crate::time::LONGEST)) has passed: for a node
    /// that reports, waits for the outcome and sleeps. Every event is shown to `done` once.
    ///
    /// `tick` gives the time; to save power it may sleep until the next interrupt before it looks at the clock. Not for boards that
    /// drive something: their control loop must go on.
    ///
    /// # Errors
    /// Those of the line.
    pub fn serve_until(
        &mut self,
        tick: impl Fn() -> Instant,
        limit: Duration,
        mut done: impl FnMut(&Event<'_>) -> bool,
    ) -> Result<Finish, L::Error> {
        let start = tick();
        loop {
            let now = tick();
            while let Some(event) = self.service(now)? {
                if done(&event) {
                    return Ok(Finish::Done);
                }
            }
            if elapsed(now, start) >= limit {
                return Ok(Finish::LimitReached);
            }
        }
    }
}
