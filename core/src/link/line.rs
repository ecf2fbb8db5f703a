//! When the line is free again: an estimate from the octet rate (W-1, W-46).

use crate::{
    framing::Lead,
    rules::holds,
    time::{Duration, LONGEST},
};

/// Lines that are faster are taken as this fast: 8 MiB per second. It keeps a division within 32 bits.
const FASTEST: u32 = 0x7F_FFFF;

/// The state of the sending side of the line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) struct Line {
    /// Octets per second; 0: so fast that it does not matter.
    rate: u32,
    /// Two octet times, µs; at most 65.5 ms, because one delimiter too many does no harm.
    grace: u16,
    /// Time until the line has been free for two octet times, µs.
    left: u32,
    /// Somebody else has put octets behind our last frame (a boot message, a console).
    mixed: bool,
}

impl Line {
    pub(crate) fn new(rate: u32) -> Self {
        let mut line = Self { rate: rate.min(FASTEST), grace: 0, left: 0, mixed: false };
        line.grace = u16::try_from(line.time(2).as_ticks()).unwrap_or(u16::MAX);
        line
    }

    /// How long `octets` (more than 65 535 are taken as so many) take, rounded up; at most 2^31 - 1 µs.
    pub(crate) fn time(&self, octets: usize) -> Duration {
        // A long division with two digits to the base 256: the board's own has no more than 32 bits.
        let [high, low] = u16::try_from(octets).unwrap_or(u16::MAX).to_be_bytes();
        let (mut ticks, mut rest) = (0_u32, 0_u32);
        for digit in [high, low] {
            let scaled = u32::from(digit).wrapping_mul(1_000_000).wrapping_add(rest.wrapping_mul(256));
            let quotient = scaled.checked_div(self.rate).unwrap_or(0);
            rest = if self.rate == 0 { 0 } else { scaled.wrapping_sub(quotient.wrapping_mul(self.rate)) };
            ticks = ticks.saturating_mul(256).saturating_add(quotient);
        }
        Duration::from_ticks(ticks.saturating_add(u32::from(rest > 0)).min(LONGEST.as_ticks()))
    }

    /// The time until the last octet has left.
    pub(crate) fn busy(&self) -> Duration {
        Duration::from_ticks(self.left.saturating_sub(u32::from(self.grace)))
    }

    /// Whether the next frame needs a delimiter before it (W-1).
    pub(crate) fn lead(&self) -> Lead {
        if (self.left > 0 && !self.mixed) || !holds(1) { Lead::BackToBack } else { Lead::Delimiter }
    }

    /// So many octets more are on their way.
    pub(crate) fn sent(&mut self, octets: usize) {
        if octets > 0 {
            let busy = self.busy().as_ticks().saturating_add(self.time(octets).as_ticks());
            self.left = busy.saturating_add(u32::from(self.grace));
            self.mixed = false;
        }
    }

    /// So many octets have not left yet, says the driver. Where that is more than we have given to it, not all are ours, and the next frame
    /// must not rely on our closing delimiter.
    pub(crate) fn correct(&mut self, unsent: usize) {
        self.mixed |= self.time(unsent).as_ticks() > self.left.max(u32::from(self.grace));
        self.left = match self.time(unsent).as_ticks() {
            0 => self.left.min(u32::from(self.grace)),
            busy => busy.saturating_add(u32::from(self.grace)),
        };
    }

    pub(crate) fn elapse(&mut self, span: Duration) {
        self.left = self.left.saturating_sub(span.as_ticks());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_frame_needs_no_delimiter_before_it_until_two_octet_times_after_the_last() {
        let us = Duration::from_ticks;
        let mut line = Line::new(10_000);
        assert_eq!(line.lead(), Lead::Delimiter);
        line.sent(10);
        assert_eq!((line.busy(), line.lead()), (us(1_000), Lead::BackToBack));
        line.elapse(us(1_199));
        assert_eq!((line.busy(), line.lead()), (us(0), Lead::BackToBack));
        line.elapse(us(1));
        assert_eq!(line.lead(), Lead::Delimiter);
        line.sent(10);
        line.sent(5);
        assert_eq!(line.busy(), us(1_500));
        line.correct(3);
        assert_eq!((line.busy(), line.lead()), (us(300), Lead::BackToBack));
        line.correct(0);
        assert_eq!((line.busy(), line.lead()), (us(0), Lead::BackToBack));
    }

    #[test]
    fn octets_of_somebody_else_behind_our_frame_call_for_a_delimiter() {
        let mut line = Line::new(10_000);
        line.correct(30);
        assert_eq!(line.lead(), Lead::Delimiter, "a boot message before our first frame");
        line.sent(10);
        assert_eq!(line.lead(), Lead::BackToBack);
        line.correct(40);
        assert_eq!(line.lead(), Lead::BackToBack, "the message and our frame");
        line.correct(50);
        assert_eq!(line.lead(), Lead::Delimiter, "and more text behind it");
    }

    #[test]
    fn times_are_rounded_up_and_never_overflow() {
        assert_eq!(Line::new(11_520).time(1).as_ticks(), 87);
        assert_eq!(Line::new(11_520).time(11_520).as_ticks(), 1_000_000);
        assert_eq!(Line::new(1).time(usize::MAX), crate::time::LONGEST);
        assert_eq!(Line::new(0).time(usize::MAX).as_ticks(), 0);
    }
}
