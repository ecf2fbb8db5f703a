//! Who has something to send, in the order in which they take turns.

/// In no ring, and last in it.
const OUT: u8 = u8::MAX;
const LAST: u8 = u8::MAX - 1;

/// First come, first served, each at most once; up to 250.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(super) struct Ring<const COUNT: usize> {
    first: u8,
    last: u8,
    /// The one behind each.
    next: [u8; COUNT],
}

impl<const COUNT: usize> Ring<COUNT> {
    pub(super) const fn new() -> Self {
        Self { first: LAST, last: LAST, next: [OUT; COUNT] }
    }

    pub(super) const fn is_empty(&self) -> bool {
        self.first == LAST
    }

    /// `who` lines up, if it has not yet.
    pub(super) fn push(&mut self, who: u8) {
        let Some(next) = self.next.get_mut(usize::from(who)) else { return };
        if *next != OUT {
            return;
        }
        *next = LAST;
        match self.next.get_mut(usize::from(self.last)) {
            Some(next) if self.first != LAST => *next = who,
            _ => self.first = who,
        }
        self.last = who;
    }

    /// The one whose turn it is; it lines up again if it has more.
    pub(super) fn pop(&mut self) -> Option<u8> {
        let who = self.first;
        let next = self.next.get_mut(usize::from(who))?;
        self.first = core::mem::replace(next, OUT);
        if self.first == LAST {
            self.last = LAST;
        }
        Some(who)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn they_take_turns_in_the_order_in_which_they_came() {
        let mut ring = Ring::<4>::new();
        for who in [2, 0, 2, 3, 9] {
            ring.push(who);
        }
        assert_eq!(ring.pop(), Some(2));
        ring.push(2);
        assert_eq!([ring.pop(), ring.pop(), ring.pop(), ring.pop()], [Some(0), Some(3), Some(2), None]);
        assert!(ring.is_empty());
        ring.push(1);
        assert_eq!((ring.pop(), ring.pop()), (Some(1), None));
        assert_eq!(ring, Ring::new());
    }
}
