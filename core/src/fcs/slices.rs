//! Sixteen tables of 256 entries, for hosts: sixteen octets a step, then eight, four, two and one on the same tables.
//!
//! Table k holds what an octet makes of the register when k more octets follow, so the octets of a step are looked up
//! independently of each other (Kounavis and Berry, "Novel table lookup-based algorithms for high-performance CRC generation",
//! IEEE Transactions on Computers 57(11), 2008).

use super::tables::{slices_16, slices_32};

static TABLES_16: [[u16; 256]; 16] = slices_16();

static TABLES_32: [[u32; 256]; 16] = slices_32();

/// What an octet makes of the register when as many more octets follow as the table stands for.
#[inline(always)]
fn entry<T: Copy + Default>(table: &[T; 256], octet: u8) -> T {
    table.get(usize::from(octet)).copied().unwrap_or_default()
}

/// One step of 2, 4, 8 or 16 octets.
#[inline(always)]
fn step_16<const N: usize>(state: u16, octets: &[u8; N]) -> u16 {
    let [low, high] = state.to_le_bytes();
    let register = [low, high];
    octets.iter().zip(TABLES_16.iter().take(N).rev()).enumerate().fold(0, |sum, (at, (&octet, table))| {
        sum ^ entry(table, octet ^ register.get(at).copied().unwrap_or(0))
    })
}

/// One step of 4, 8 or 16 octets.
#[inline(always)]
fn step_32<const N: usize>(state: u32, octets: &[u8; N]) -> u32 {
    let register = state.to_le_bytes();
    octets.iter().zip(TABLES_32.iter().take(N).rev()).enumerate().fold(0, |sum, (at, (&octet, table))| {
        sum ^ entry(table, octet ^ register.get(at).copied().unwrap_or(0))
    })
}

#[inline]
pub(super) fn update_16(mut state: u16, mut more: &[u8]) -> u16 {
    while let Some((octets, rest)) = more.split_first_chunk::<16>() {
        state = step_16(state, octets);
        more = rest;
    }
    if let Some((octets, rest)) = more.split_first_chunk::<8>() {
        state = step_16(state, octets);
        more = rest;
    }
    if let Some((octets, rest)) = more.split_first_chunk::<4>() {
        state = step_16(state, octets);
        more = rest;
    }
    if let Some((octets, rest)) = more.split_first_chunk::<2>() {
        state = step_16(state, octets);
        more = rest;
    }
    if let Some(&octet) = more.first() {
        let [low, _] = state.to_le_bytes();
        state = state >> 8 ^ entry(&TABLES_16[0], low ^ octet);
    }
    state
}

#[inline]
pub(super) fn update_32(mut state: u32, mut more: &[u8]) -> u32 {
    while let Some((octets, rest)) = more.split_first_chunk::<16>() {
        state = step_32(state, octets);
        more = rest;
    }
    if let Some((octets, rest)) = more.split_first_chunk::<8>() {
        state = step_32(state, octets);
        more = rest;
    }
    if let Some((octets, rest)) = more.split_first_chunk::<4>() {
        state = step_32(state, octets);
        more = rest;
    }
    for &octet in more {
        let [low, ..] = state.to_le_bytes();
        state = state >> 8 ^ entry(&TABLES_32[0], low ^ octet);
    }
    state
}
