//! A set of addresses.

/// A bit for each address.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) struct Due([u32; 8]);

impl Due {
    pub(super) const NOBODY: Self = Self([0; 8]);

    fn word(&mut self, leaf: u8) -> Option<&mut u32> {
        self.0.get_mut(usize::from(leaf >> 5))
    }

    pub(super) fn insert(&mut self, leaf: u8) {
        if let Some(word) = self.word(leaf) {
            *word |= 1 << (leaf & 31);
        }
    }

    pub(super) fn remove(&mut self, leaf: u8) {
        if let Some(word) = self.word(leaf) {
            *word &= !(1 << (leaf & 31));
        }
    }

    /// The lowest of them from this one on.
    pub(super) fn first_from(&self, leaf: u8) -> Option<u8> {
        let start = usize::from(leaf >> 5);
        let low = u32::MAX << (leaf & 31);
        let words = self.0.iter().enumerate().skip(start);
        let (place, word) = words
            .map(|(place, word)| (place, if place == start { word & low } else { *word }))
            .find(|(_, word)| *word != 0)?;
        u8::try_from(place << 5 | usize::try_from(word.trailing_zeros()).ok()?).ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_lowest_comes_first_until_nobody_is_left() {
        let mut due = Due::NOBODY;
        for leaf in [250, 31, 32, 0, 31] {
            due.insert(leaf);
        }
        assert_eq!(
            [1, 31, 32, 33, 251].map(|leaf| due.first_from(leaf)),
            [Some(31), Some(31), Some(32), Some(250), None]
        );
        for leaf in [0, 31, 32, 250] {
            assert_eq!(due.first_from(0), Some(leaf));
            due.remove(leaf);
        }
        assert_eq!((due.first_from(0), due), (None, Due::NOBODY));
    }
}
