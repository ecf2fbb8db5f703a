//! Which parts are held: all below a base, and single ones above it.

/// Parts held, in the form in which a map tells them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub(super) struct Parts {
    /// The lowest part that is not held.
    pub(super) base: u32,
    /// Bit i: part base+1+i is held.
    pub(super) held: u32,
}

impl Parts {
    const fn bit(&self, index: u32) -> Option<u32> {
        match index.checked_sub(self.base) {
            Some(0) | None => None,
            Some(off) => 1_u32.checked_shl(off.wrapping_sub(1)),
        }
    }

    /// Whether part `index` is held.
    pub(super) fn has(&self, index: u32) -> bool {
        index < self.base || self.bit(index).is_some_and(|bit| self.held & bit != 0)
    }

    /// Takes part `index`, which must be base or at most 32 further on; others change nothing.
    pub(super) fn take(&mut self, index: u32) {
        if index == self.base {
            self.base = self.base.saturating_add(1);
            while self.held & 1 != 0 {
                self.held >>= 1;
                self.base = self.base.saturating_add(1);
            }
            self.held >>= 1;
        } else if let Some(bit) = self.bit(index) {
            self.held |= bit;
        }
    }

    /// How many are held.
    pub(super) const fn count(&self) -> u32 {
        self.base.saturating_add(self.held.count_ones())
    }

    /// The highest one held, plus 1.
    pub(super) const fn end(&self) -> u32 {
        match self.held.checked_ilog2() {
            None => self.base,
            Some(top) => self.base.saturating_add(top).saturating_add(2),
        }
    }
}
