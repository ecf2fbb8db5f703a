//! A table of 16 entries: four bits at a time, low nibble first.

use super::tables::{table_16, table_32};

static TABLE_16: [u16; 16] = table_16(4);

static TABLE_32: [u32; 16] = table_32(4);

#[inline(never)]
pub(super) fn update_16(state: u16, more: &[u8]) -> u16 {
    let entry = |state: u16| TABLE_16.get(usize::from(state & 0xF)).copied().unwrap_or(0);
    more.iter().fold(state, |state, &octet| {
        let state = state ^ u16::from(octet);
        let state = state >> 4 ^ entry(state);
        state >> 4 ^ entry(state)
    })
}

#[inline(never)]
pub(super) fn update_32(state: u32, more: &[u8]) -> u32 {
    let entry = |state: u32| TABLE_32.get((state & 0xF) as usize).copied().unwrap_or(0);
    more.iter().fold(state, |state, &octet| {
        let state = state ^ u32::from(octet);
        let state = state >> 4 ^ entry(state);
        state >> 4 ^ entry(state)
    })
}
