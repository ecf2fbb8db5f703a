//! Which set-points are new, and how many were lost (W-44, W-45).

use core::cmp::Ordering;

use crate::{frame::Reject, rules::holds, seq::Serial};

#[derive(Debug, Clone, PartialEq, Eq, Hash, Default)]
pub(crate) struct SetPoints {
    expected: Serial,
}

impl SetPoints {
    /// The number that comes next if none is lost.
    pub(crate) const fn expected(&self) -> Serial {
        self.expected
    }

    /// Goes on in a session.
    pub(crate) const fn resume(&mut self, expected: Serial) {
        self.expected = expected;
    }

    /// Whether a set-point on an ordered link is to be delivered, and how many were lost before it.
    pub(crate) fn judge(&mut self, number: Serial) -> Result<u8, Reject> {
        let missed = number.since(self.expected);
        if !holds(44) && missed >= 128 {
            return Err(Reject::StaleSetPoint);
        }
        self.expected = number.plus(1);
        Ok(missed)
    }

    /// How many were lost before one that is to be delivered on an unordered link.
    pub(crate) fn missed(&mut self, number: Serial) -> u8 {
        // A late one of another kind.
        if self.expected.compare(number) == Some(Ordering::Greater) {
            return 0;
        }
        let missed = number.since(self.expected);
        self.expected = number.plus(1);
        missed
    }
}
