//! Which set-points the hub has taken lately, on an unordered medium (W-45): a few places for all leaves.

use crate::{
    frame::{MessageNumber, Reject},
    seq::Serial,
};

/// Kinds of set-point, of all leaves together, that can be told apart within two lifetimes. A further one is refused as *no room*.
const KINDS: usize = 16;

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
struct Last {
    leaf: u8,
    number: Serial,
    message: u16,
    /// Epochs that it is still kept in mind: more than one lifetime and at most two. In two a leaf sends at most 127, so that a new one never looks old.
    epochs: u8,
}

/// The last one taken of each kind.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Default)]
pub(super) struct Lasts([Last; KINDS]);

impl Lasts {
    /// Epochs have ended.
    pub(super) fn elapse(&mut self, epochs: u8) {
        for last in &mut self.0 {
            last.epochs = last.epochs.saturating_sub(epochs);
            if last.epochs == 0 {
                *last = Last::default();
            }
        }
    }

    /// The session with this leaf is another one, or none.
    pub(super) fn forget(&mut self, leaf: u8) {
        for last in self.0.iter_mut().filter(|last| last.leaf == leaf) {
            *last = Last::default();
        }
    }

    /// Whether a set-point is newer than the last one of its kind; takes note of it if it is.
    pub(super) fn judge(&mut self, leaf: u8, message: MessageNumber, number: Serial) -> Result<(), Reject> {
        let new = Last { leaf, number, message: message.get(), epochs: 2 };
        let same = |last: &Last| last.epochs > 0 && (last.leaf, last.message) == (leaf, new.message);
        let place = self.0.iter().position(same).or_else(|| self.0.iter().position(|last| last.epochs == 0));
        let last = place.and_then(|place| self.0.get_mut(place)).ok_or(Reject::NoRoom)?;
        if last.epochs > 0 && !number.is_newer_than(last.number) {
            return Err(Reject::StaleSetPoint);
        }
        *last = new;
        Ok(())
    }
}
