//! Foreign text that was collected with marks, handed out exactly as it came (W-9).

use super::{ESCAPE, FLIP, MARK, State};
use crate::framing::Step;

impl State {
    /// The next piece of the text that begins at `from`, as it came, at the start of the buffer.
    #[inline(never)]
    pub(super) fn piece(&mut self, from: usize, buffer: &mut [u8]) -> Step {
        let mut from = from;
        let mut len = 0_usize;
        self.drain = 0;
        if self.half != 0
            && let Some(cell) = buffer.first_mut()
        {
            *cell = core::mem::take(&mut self.half);
            len = 1;
        }
        while let Some(&cell) = buffer.get(from) {
            let plain = cell & !MARK ^ FLIP;
            match buffer.get_mut(len..=from) {
                Some([first, ..]) if cell & MARK == 0 => {
                    *first = cell;
                    len = len.wrapping_add(1);
                }
                Some([first, second, ..]) => {
                    (*first, *second) = (ESCAPE, plain);
                    len = len.wrapping_add(2);
                }
                Some([first]) if from == 0 => {
                    *first = ESCAPE;
                    self.half = plain;
                    self.drain = 1;
                    return Step::Text { len: 1 };
                }
                _ => {
                    self.drain = from;
                    break;
                }
            }
            from = from.wrapping_add(1);
        }
        Step::Text { len }
    }
}

/// Moves the cells of a text to the end of the buffer, so that there is room before them to restore it; gives where they begin.
///
/// Zeros are left behind, see [`shift`](crate::framing::candidate::shift).
pub(super) fn drain(len: usize, buffer: &mut [u8]) -> usize {
    let start = buffer.len().saturating_sub(len);
    if start > 0 {
        for at in (0..len).rev() {
            let octet = buffer.get_mut(at).map_or(0, core::mem::take);
            if let Some(cell) = buffer.get_mut(start.wrapping_add(at)) {
                *cell = octet;
            }
        }
    }
    start
}
