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

    /// Numbers under way.
    pub(crate) const fn outstanding(&self) -> u8 {
        self.next.since(self.base)
    }

    /// Whether a new number may be sent with a window of `window` numbers (W-37).
    pub(crate) const fn is_open(&self, window: u8) -> bool {
        self.outstanding() < window
    }

    /// Takes the next number into use.
    pub(crate) fn take(&mut self) -> Serial<BITS> {
        let number = self.next;
        self.next = self.next.plus(1);
        number
    }

    /// How far behind the base `number` lies, if it is under way.
    pub(crate) fn offset(&self, number: Serial<BITS>) -> Option<u8> {
        Some(number.since(self.base)).filter(|&offset| offset < self.outstanding())
    }

    /// Takes an acknowledgement of everything before `next`; gives how many numbers it settles, `None` if it names what was never
    /// sent (W-40).
    pub(crate) fn acknowledge(&mut self, next: Serial<BITS>) -> Option<u8> {
        let settled = next.since(self.base);
        if settled <= self.outstanding() {
            self.base = next;
            Some(settled)
        } else if holds(40) {
            None
        } else {
            let all = self.outstanding();
            self.base = self.next;
            Some(all)
        }
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
                    let settled = (16 + next - base) % 16;
                    let wanted = (settled <= under_way).then_some(settled);
                    assert_eq!(books.acknowledge(Serial::new(next)), wanted);
                    assert_eq!(books.outstanding(), under_way - wanted.unwrap_or(0));
                }
            }
        }
    }
}
