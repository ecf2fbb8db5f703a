//! The sender's books: which numbers are under way.

use crate::{rules::holds, seq::Serial};

/// Send window over 2^`BITS` numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub(crate) struct SendWindow<const BITS: u32 = 8> {
    base: Serial<BITS>,
    next: Serial<BITS>,
}

impl<const BITS: u32> SendWindow<BITS> {
    pub(crate) const fn new() -> Self {
        Self { base: Serial::new(0), next: Serial::new(0) }
    }

    /// Goes on in a session: `base` is the next number.
    pub(crate) const fn resumed(base: Serial<BITS>) -> Self {
        Self { base, next: base }
    }

    /// Numbers under way.
    pub(crate) const fn outstanding(&self) -> u8 {
        self.next.since(self.base)
    }

    /// Whether a new number may be sent with a window of `window` numbers (W-37).
    pub(crate) const fn is_open(&self, window: u8) -> bool {
        self.outstanding() < window
    }

    /// The oldest number under way, or the next if there is none.
    pub(crate) const fn base(&self) -> Serial<BITS> {
        self.base
    }

    /// Takes the next number into use.
    pub(crate) fn take(&mut self) {
        self.next = self.next.plus(1);
    }

    /// How many numbers an acknowledgement of everything before `next` settles; `None` if it names what was never sent (W-40).
    pub(crate) fn settles(&self, next: Serial<BITS>) -> Option<u8> {
        let settled = next.since(self.base);
        if settled <= self.outstanding() {
            Some(settled)
        } else if holds(40) {
            None
        } else {
            Some(self.outstanding())
        }
    }

    /// The oldest number is under way no more.
    pub(crate) fn pass(&mut self) {
        self.base = self.base.plus(1);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_acknowledgement_counts_only_for_numbers_under_way() {
        for base in 0..16 {
            for under_way in 0..=8_u8 {
                for next in 0..16_u8 {
                    let mut books =
                        SendWindow::<4> { base: Serial::new(base), next: Serial::new(base + under_way) };
                    for window in 0..=8 {
                        assert_eq!(books.is_open(window), under_way < window);
                    }
                    let settled = (16 + next - base) % 16;
                    let wanted = (settled <= under_way).then_some(settled);
                    assert_eq!(books.settles(Serial::new(next)), wanted);
                    for _ in 0..wanted.unwrap_or(0) {
                        books.pass();
                    }
                    assert_eq!(books.outstanding(), under_way - wanted.unwrap_or(0));
                }
            }
        }
    }
}
