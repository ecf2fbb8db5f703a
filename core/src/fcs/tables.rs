//! Makes the tables, at compile time only: a mistake here is an error of the compiler, never a panic.
#![allow(clippy::indexing_slicing, clippy::arithmetic_side_effects, clippy::cast_possible_truncation)]

use super::{POLYNOMIAL_16, POLYNOMIAL_32};

/// What the low `bits` bits of the register become, for each of their `N` values.
pub(super) const fn table_16<const N: usize>(bits: u32) -> [u16; N] {
    let mut table = [0; N];
    let mut at = 0;
    while at < N {
        let mut entry = at as u16;
        let mut bit = 0;
        while bit < bits {
            entry = entry >> 1 ^ if entry & 1 == 1 { POLYNOMIAL_16 } else { 0 };
            bit += 1;
        }
        table[at] = entry;
        at += 1;
    }
    table
}

/// As [`table_16`].
pub(super) const fn table_32<const N: usize>(bits: u32) -> [u32; N] {
    let mut table = [0; N];
    let mut at = 0;
    while at < N {
        let mut entry = at as u32;
        let mut bit = 0;
        while bit < bits {
            entry = entry >> 1 ^ if entry & 1 == 1 { POLYNOMIAL_32 } else { 0 };
            bit += 1;
        }
        table[at] = entry;
        at += 1;
    }
    table
}

/// Table k: what an octet makes of the register when k more octets follow.
#[cfg(any(test, feature = "fcs-host"))]
pub(super) const fn slices_16() -> [[u16; 256]; 16] {
    let mut tables = [table_16(8); 16];
    let mut follow = 1;
    while follow < 16 {
        let mut at = 0;
        while at < 256 {
            let before = tables[follow - 1][at];
            tables[follow][at] = before >> 8 ^ tables[0][(before & 0xFF) as usize];
            at += 1;
        }
        follow += 1;
    }
    tables
}

/// As [`slices_16`].
#[cfg(any(test, feature = "fcs-host"))]
pub(super) const fn slices_32() -> [[u32; 256]; 16] {
    let mut tables = [table_32(8); 16];
    let mut follow = 1;
    while follow < 16 {
        let mut at = 0;
        while at < 256 {
            let before = tables[follow - 1][at];
            tables[follow][at] = before >> 8 ^ tables[0][(before & 0xFF) as usize];
            at += 1;
        }
        follow += 1;
    }
    tables
}
