//! A place for one payload: the frame buffers of a link.

use core::hash::{Hash, Hasher};

/// Octets up to `FRAME`; what lies behind them means nothing.
#[derive(Debug, Clone)]
pub(crate) struct Slot<const FRAME: usize> {
    len: u16,
    octets: [u8; FRAME],
}

impl<const FRAME: usize> Slot<FRAME> {
    pub(crate) const EMPTY: Self = Self { len: 0, octets: [0; FRAME] };

    /// A call of its own, so that the compiler hands it the place where they are to be: in line it would make them on the stack
    /// and copy them.
    #[inline(never)]
    pub(crate) fn all_empty<const COUNT: usize>() -> [Self; COUNT] {
        [Self::EMPTY; COUNT]
    }

    /// Keeps octets in the place of those before; `false` and nothing changed if there are too many.
    pub(crate) fn keep(&mut self, octets: &[u8]) -> bool {
        let before = core::mem::take(&mut self.len);
        let fits = self.extend(octets);
        if !fits {
            self.len = before;
        }
        fits
    }

    /// Keeps octets behind those before; `false` and nothing changed if there are too many.
    #[inline(never)]
    pub(crate) fn extend(&mut self, more: &[u8]) -> bool {
        let len = usize::from(self.len);
        let end = len.saturating_add(more.len());
        let (Some(cells), Ok(end)) = (self.octets.get_mut(len..end), u16::try_from(end)) else {
            return false;
        };
        for (cell, &octet) in cells.iter_mut().zip(more) {
            *cell = octet;
        }
        self.len = end;
        true
    }

    pub(crate) fn clear(&mut self) {
        self.len = 0;
    }

    pub(crate) fn octets(&self) -> &[u8] {
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
