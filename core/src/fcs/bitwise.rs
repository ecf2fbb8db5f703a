//! No table: one bit at a time.

use super::{POLYNOMIAL_16, POLYNOMIAL_32};

#[inline(never)]
pub(super) fn update_16(state: u16, more: &[u8]) -> u16 {
    more.iter().fold(state, |state, &octet| {
        (0..8).fold(state ^ u16::from(octet), |state, _| {
            state >> 1 ^ if state & 1 == 1 { POLYNOMIAL_16 } else { 0 }
        })
    })
}

#[inline(never)]
pub(super) fn update_32(state: u32, more: &[u8]) -> u32 {
    more.iter().fold(state, |state, &octet| {
        (0..8).fold(state ^ u32::from(octet), |state, _| {
            state >> 1 ^ if state & 1 == 1 { POLYNOMIAL_32 } else { 0 }
        })
    })
}
