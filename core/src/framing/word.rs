//! Eight octets at a time in one register, for hosts.

const LOW: u64 = 0x0101_0101_0101_0101;
const LOW_SEVEN: u64 = 0x7F7F_7F7F_7F7F_7F7F;

/// What [`zeros`] gives for eight zeros.
pub(super) const ALL: u64 = !LOW_SEVEN;

/// The top bit of each octet that is zero, and nothing else; the first octet is the lowest.
#[inline]
pub(super) const fn zeros(octets: [u8; 8]) -> u64 {
    let word = u64::from_le_bytes(octets);
    !((word & LOW_SEVEN).wrapping_add(LOW_SEVEN) | word | LOW_SEVEN)
}

/// Not zero if any octet is zero; then its lowest bit stands for the first of them.
#[inline(always)]
pub(super) const fn any_zero(word: u64) -> u64 {
    word.wrapping_sub(LOW) & !word & !LOW_SEVEN
}

/// As [`any_zero`], for octets equal to `octet`.
#[inline(always)]
pub(super) const fn any_equal(word: u64, octet: u8) -> u64 {
    any_zero(word ^ u64::from_le_bytes([octet; 8]))
}

/// As [`any_zero`], for octets below `bound` (at most 0x80).
#[inline(always)]
pub(super) const fn any_below(word: u64, bound: u8) -> u64 {
    word.wrapping_sub(u64::from_le_bytes([bound; 8])) & !word & !LOW_SEVEN
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

/// Copies octets up to the first special one, as many as fit; gives how many. Octets of `to` after them are undefined.
///
/// `special` sees eight octets and gives, if any of them is special, a number whose lowest bit stands for the first one.
#[inline(always)]
pub(super) fn copy_until(from: &[u8], to: &mut [u8], special: impl Fn(u64) -> u64) -> usize {
    let end = from.len().min(to.len());
    if let Some(last) = end.checked_sub(8) {
        let mut at = 0_usize;
        while let (Some(from), Some(to)) = (chunk(from, at), chunk_mut(to, at)) {
            *to = *from;
            let found = special(u64::from_le_bytes(*from));
            if found != 0 {
                return at.wrapping_add(first(found));
            }
            if at == last {
                break;
            }
            // The last eight octets may overlap those that are done, among which there is no special one.
            at = at.wrapping_add(8).min(last);
        }
        return end;
    }
    for (at, (from, to)) in from.iter().zip(to).enumerate() {
        if special(u64::from_le_bytes([*from; 8])) != 0 {
            return at;
        }
        *to = *from;
    }
    end
}

#[inline(always)]
fn chunk(octets: &[u8], at: usize) -> Option<&[u8; 8]> {
    octets.get(at..)?.first_chunk()
}

#[inline(always)]
fn chunk_mut(octets: &mut [u8], at: usize) -> Option<&mut [u8; 8]> {
    octets.get_mut(at..)?.first_chunk_mut()
}

#[cfg(test)]
mod tests;
