//! A place for one payload: the frame buffers of a link.

use core::hash::{Hash, Hasher};

/// Octets up to `FRAME`; what lies behind them means nothing.
#[derive(Debug, Clone)]
pub(super) struct Slot<const FRAME: usize> {
    len: u16,
    octets: [u8; FRAME],
}

impl<const FRAME: usize> Slot<FRAME> {
    pub(super) const EMPTY: Self = Self { len: 0, octets: [0; FRAME] };

    /// Keeps octets in the place of those before; `false` and nothing changed if there are too many.
    pub(super) fn keep(&mut self, parts: [&[u8]; 2]) -> bool {
        let len = parts.iter().fold(0_usize, |len, part| len.saturating_add(part.len()));
        let Some(len) = u16::try_from(len).ok().filter(|&len| usize::from(len) <= FRAME) else {
            return false;
        };
        let mut cells = self.octets.iter_mut();
        for part in parts {
            // The octets come first: the other way round, the end of a part would use up a cell.
            for (&octet, cell) in part.iter().zip(cells.by_ref()) {
                *cell = octet;
            }
        }
        self.len = len;
        true
    }

    pub(super) fn clear(&mut self) {
        self.len = 0;
    }

    pub(super) fn octets(&self) -> &[u8] {
        self.octets.get(..usize::from(self.len)).unwrap_or(&self.octets)
    }
}

impl<const FRAME: usize> PartialEq for Slot<FRAME> {
    fn eq(&self, other: &Self) -> bool {
        self.octets() == other.octets()
    }
}

impl<const FRAME: usize> Eq for Slot<FRAME> {}

impl<const FRAME: usize> Hash for Slot<FRAME> {
    fn hash<H: Hasher>(&self, hasher: &mut H) {
        self.octets().hash(hasher);
    }
}
