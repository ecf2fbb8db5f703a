//! Eight octets at a time in one register, for hosts.

const LOW: u64 = 0x0101_0101_0101_0101;
const LOW_SEVEN: u64 = 0x7F7F_7F7F_7F7F_7F7F;

/// The top bit of each octet that is zero, and nothing else; the first octet is the lowest.
#[inline]
pub(super) const fn zeros(octets: [u8; 8]) -> u64 {
    let word = u64::from_le_bytes(octets);
    !((word & LOW_SEVEN).wrapping_add(LOW_SEVEN) | word | LOW_SEVEN)
}

/// Not zero if any octet is zero; then its lowest bit stands for the first of them.
#[inline]
const fn any_zero(octets: [u8; 8]) -> u64 {
    let word = u64::from_le_bytes(octets);
    word.wrapping_sub(LOW) & !word & !LOW_SEVEN
}

/// Which octet the lowest set bit stands for.
#[inline]
pub(super) const fn first(zeros: u64) -> usize {
    (zeros.trailing_zeros() / 8) as usize
}

/// Of the top bits of eight octets those of the last `count` (1..=7).
#[inline]
pub(super) const fn last(count: usize) -> u64 {
    u64::MAX << (8_usize.wrapping_sub(count).wrapping_mul(8) & 63)
}

/// Copies octets up to the first zero, as many as fit; gives how many. Octets of `to` after them are undefined.
#[inline]
pub(super) fn copy_to_zero(from: &[u8], to: &mut [u8]) -> usize {
    let mut len = 0_usize;
    for (from, to) in from.as_chunks::<8>().0.iter().zip(to.as_chunks_mut::<8>().0) {
        *to = *from;
        let zeros = any_zero(*from);
        if zeros != 0 {
            return len.wrapping_add(first(zeros));
        }
        len = len.wrapping_add(8);
    }
    let end = from.len().min(to.len());
    if let Some(before) = end.checked_sub(8).filter(|_| len != end) {
        // The last eight octets overlap those that are done, among which there is no zero.
        let from = from.get(before..).and_then(|rest| rest.first_chunk::<8>());
        let to = to.get_mut(before..).and_then(|rest| rest.first_chunk_mut::<8>());
        if let (Some(from), Some(to)) = (from, to) {
            *to = *from;
            let zeros = any_zero(*from);
            return if zeros == 0 { end } else { before.wrapping_add(first(zeros)) };
        }
    }
    for (from, to) in from.iter().zip(to).skip(len) {
        if *from == 0 {
            break;
        }
        *to = *from;
        len = len.wrapping_add(1);
    }
    len
}
