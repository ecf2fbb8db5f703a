//! Which set-points are new (W-44, W-45).

use core::cmp::Ordering;

use heapless::Vec;

use crate::{
    frame::{MessageNumber, Reject},
    rules::holds,
    seq::Serial,
    time::Duration,
};

/// Kinds of set-point that an unordered link can tell apart within one lifetime.
const KINDS: usize = 8;

/// The last one delivered of one kind, forgotten after a lifetime.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
struct Last {
    message: MessageNumber,
    number: Serial,
    left: u32,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash, Default)]
pub(super) struct SetPoints {
    expected: Serial,
    last: Vec<Last, KINDS, u8>,
}

impl SetPoints {
    pub(super) fn elapse(&mut self, span: Duration) {
        for last in &mut self.last {
            last.left = last.left.saturating_sub(span.as_ticks());
        }
        self.last.retain(|last| last.left > 0);
    }

    /// Whether a set-point on an ordered link is to be delivered, and how many were lost before it.
    pub(super) fn judge_ordered(&mut self, number: u8) -> Result<u8, Reject> {
        let number = Serial::new(number);
        let missed = number.since(self.expected);
        if !holds(44) && missed >= 128 {
            return Err(Reject::StaleSetPoint);
        }
        self.expected = number.plus(1);
        Ok(missed)
    }

    /// The same on an unordered link with this lifetime.
    pub(super) fn judge_unordered(
        &mut self,
        message: MessageNumber,
        number: u8,
        lifetime: Duration,
    ) -> Result<u8, Reject> {
        let number = Serial::new(number);
        let last = Last { message, number, left: lifetime.as_ticks() };
        let missed = number.since(self.expected);
        match self.last.iter_mut().find(|last| last.message == message) {
            Some(seen) => {
                let newer = if holds(45) { number.is_newer_than(seen.number) } else { number != seen.number };
                if !newer {
                    return Err(Reject::StaleSetPoint);
                }
                *seen = last;
            }
            None if lifetime.as_ticks() == 0 => {}
            None => self.last.push(last).map_err(|_| Reject::NoRoom)?,
        }
        match self.expected.compare(number) {
            // A late one of another kind.
            Some(Ordering::Greater) => Ok(0),
            _ => {
                self.expected = number.plus(1);
                Ok(missed)
            }
        }
    }
}
