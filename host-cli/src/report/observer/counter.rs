//! The numbers of set-points or of notices.

/// The number space of set-points or notices.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Counter {
    pub(super) next: Option<u8>,
}

impl Counter {
    /// How many numbers were skipped before this one; `None` if it was seen before.
    pub(super) fn step(&mut self, number: u8, ordered: bool) -> Option<u8> {
        let Some(next) = self.next else {
            self.next = Some(number.wrapping_add(1));
            return Some(0);
        };
        let skipped = number.wrapping_sub(next);
        if skipped == u8::MAX || (!ordered && skipped >= 128) {
            return None;
        }
        self.next = Some(number.wrapping_add(1));
        Some(skipped)
    }
}
