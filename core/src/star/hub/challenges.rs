//! Strangers that are challenged (W-29c): a few places for all leaves. A challenge that is pushed out is as one lost on the way.

const PLACES: usize = 4;

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub(super) struct Challenges {
    /// Address (0: free) and the stranger's own number, newest first.
    owed: [(u8, u32); PLACES],
}

impl Challenges {
    pub(super) fn push(&mut self, leaf: u8, stranger: u32) {
        let [first, second, third, fourth] = &mut self.owed;
        let new = core::mem::replace(first, (leaf, stranger));
        let mut older = new;
        for cell in [second, third, fourth] {
            // The place of an earlier one for this leaf, or a free one, ends the move.
            if older.0 == leaf || older.0 == 0 {
                return;
            }
            core::mem::swap(cell, &mut older);
        }
    }

    /// The stranger that is challenged at this address.
    pub(super) fn take(&mut self, leaf: u8) -> Option<u32> {
        let place = self.owed.iter_mut().find(|(other, _)| *other == leaf)?;
        let (_, stranger) = core::mem::take(place);
        Some(stranger)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_newest_four_are_kept_one_for_each_leaf() {
        let mut challenges = Challenges::default();
        for (leaf, stranger) in [(1, 10), (2, 20), (1, 11), (3, 30), (4, 40), (5, 50)] {
            challenges.push(leaf, stranger);
        }
        assert_eq!(challenges.take(2), None, "pushed out");
        for (leaf, stranger) in [(1, 11), (3, 30), (4, 40), (5, 50)] {
            assert_eq!((challenges.take(leaf), challenges.take(leaf)), (Some(stranger), None));
        }
        assert_eq!(challenges, Challenges::default());
    }
}
