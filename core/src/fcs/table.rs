//! A table of 256 entries: one octet at a time (RFC 1662 sections C.2 and C.3).

use super::tables::{table_16, table_32};

static TABLE_16: [u16; 256] = table_16(8);

static TABLE_32: [u32; 256] = table_32(8);

#[inline(never)]
pub(super) fn update_16(state: u16, more: &[u8]) -> u16 {
    more.iter().fold(state, |state, &octet| {
        let [low, _] = state.to_le_bytes();
        state >> 8 ^ TABLE_16.get(usize::from(low ^ octet)).copied().unwrap_or(0)
    })
}

#[inline(never)]
pub(super) fn update_32(state: u32, more: &[u8]) -> u32 {
    more.iter().fold(state, |state, &octet| {
        let [low, ..] = state.to_le_bytes();
        state >> 8 ^ TABLE_32.get(usize::from(low ^ octet)).copied().unwrap_or(0)
    })
}
