//! Foreign text (W-9): boot messages, a login console, a prompt.

/// The text octets below 0x20, bit n for octet n: 0x07..=0x0D (bell to carriage return) and 0x1B (escape).
const CONTROLS: u32 = 0x0800_3F80;

/// Whether one octet is a text octet: 0x07..=0x0D, 0x1B, 0x20..=0x7E.
#[inline]
pub(super) const fn is_text_octet(octet: u8) -> bool {
    if octet < 0x20 { CONTROLS >> octet & 1 == 1 } else { octet < 0x7F }
}

/// Whether octets are text octets alone (W-9): 0x07..=0x0D, 0x1B, 0x20..=0x7E. An empty slice is not text.
#[must_use]
#[inline(never)]
pub fn is_text(octets: &[u8]) -> bool {
    !octets.is_empty() && octets.iter().all(|&octet| is_text_octet(octet))
}
