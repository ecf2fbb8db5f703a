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
    let rest = from.get(len..).unwrap_or(&[]).iter().zip(to.get_mut(len..).unwrap_or(&mut []));
    for (from, to) in rest {
        if *from == 0 {
            break;
        }
        *to = *from;
        len = len.wrapping_add(1);
    }
    len
}
