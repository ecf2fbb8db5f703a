use std::vec::Vec;

use super::*;

/// Each special octet at each place of eight, before and after octets that come close to it.
fn words(special: u8, plain: [u8; 3]) -> Vec<[u8; 8]> {
    let mut all = std::vec![];
    for plain in plain {
        all.push([plain; 8]);
        for mask in 1..=255_u8 {
            all.push(core::array::from_fn(|at| if mask >> at & 1 == 1 { special } else { plain }));
        }
    }
    all
}

/// `found` says whether any octet is meant, and which is the first.
fn agrees(octets: [u8; 8], found: u64, is_meant: impl Fn(u8) -> bool) {
    let wanted = octets.iter().position(|&octet| is_meant(octet));
    assert_eq!((found != 0).then(|| first(found)), wanted, "{octets:02X?}");
}

#[test]
fn zeros_gives_the_top_bit_of_each_zero_alone() {
    assert_eq!(ALL, 0x8080_8080_8080_8080);
    for octets in words(0, [1, 0x80, 0xFF]) {
        let top = octets.map(|octet| if octet == 0 { 0x80 } else { 0 });
        assert_eq!(zeros(octets), u64::from_le_bytes(top), "{octets:02X?}");
    }
}

#[test]
fn the_first_of_any_zero_equal_or_lower_octet_is_found() {
    for octets in words(0, [1, 0x80, 0xFF]) {
        agrees(octets, any_zero(u64::from_le_bytes(octets)), |octet| octet == 0);
    }
    for octets in words(0x7E, [0x7D, 0x7F, 0xFE]) {
        agrees(octets, any_equal(u64::from_le_bytes(octets), 0x7E), |octet| octet == 0x7E);
    }
    for bound in [1, 0x20, 0x80] {
        for low in [0, bound - 1] {
            for octets in words(low, [bound, 0x80, 0xFF]) {
                agrees(octets, any_below(u64::from_le_bytes(octets), bound), |octet| octet < bound);
            }
        }
    }
}

#[test]
fn copying_ends_at_the_first_special_octet_or_where_there_is_no_more() {
    for len in 0..30_usize {
        for room in 0..30 {
            for at in 0..=len {
                let mut from = std::vec![5_u8; len];
                from.iter_mut().skip(at).step_by(3).for_each(|octet| *octet = 0);
                let mut to = std::vec![9_u8; room];
                let copied = copy_until(&from, &mut to, any_zero);
                assert_eq!(copied, at.min(room), "{len} octets, special {at}, room {room}");
                assert_eq!(to[..copied], from[..copied]);
            }
        }
    }
}
