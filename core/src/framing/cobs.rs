//! Consistent overhead byte stuffing (Cheshire and Baker, IEEE/ACM ToN 7(2), 1999), canonical (W-3, W-4).

/// COBS with the delimiter 0x00.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Cobs;

/// The most octets that `n` octets take when encoded, without delimiters: n + max(1, ceil(n/254)).
#[must_use]
pub const fn max_encoded_len(n: usize) -> usize {
    let blocks = n.div_ceil(254);
    n.saturating_add(if blocks == 0 { 1 } else { blocks })
}
