use std::vec::Vec;

use proptest::prelude::*;

use super::*;

const CATALOGUE_16: crc::Crc<u16> = crc::Crc::<u16>::new(&crc::CRC_16_IBM_SDLC);
const CATALOGUE_32: crc::Crc<u32> = crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC);

type Update16 = fn(u16, &[u8]) -> u16;
type Update32 = fn(u32, &[u8]) -> u32;

const ALL_16: [(&str, Update16); 4] = [
    ("bitwise", bitwise::update_16),
    ("nibble", nibble::update_16),
    ("table", table::update_16),
    ("slices", slices::update_16),
];
const ALL_32: [(&str, Update32); 4] = [
    ("bitwise", bitwise::update_32),
    ("nibble", nibble::update_32),
    ("table", table::update_32),
    ("slices", slices::update_32),
];

fn with_fcs<C: Fcs>(frame: &[u8]) -> Vec<u8> {
    let fcs = C::octets(C::update(C::INIT, frame));
    [frame, &fcs[..C::LEN]].concat()
}

#[test]
fn check_values_and_residues_of_the_reveng_catalogue() {
    // CRC-16/IBM-SDLC: check 0x906E, residue 0xF0B8. CRC-32/ISO-HDLC: check 0xCBF43926, residue 0xDEBB20E3.
    assert_eq!(with_fcs::<Fcs16>(b"123456789")[9..], [0x6E, 0x90]);
    assert_eq!(with_fcs::<Fcs32>(b"123456789")[9..], [0x26, 0x39, 0xF4, 0xCB]);
    assert_eq!(Fcs16::update(Fcs16::INIT, &with_fcs::<Fcs16>(b"123456789")), 0xF0B8);
    assert_eq!(Fcs32::update(Fcs32::INIT, &with_fcs::<Fcs32>(b"123456789")), 0xDEBB_20E3);
}

#[test]
fn table_entries_of_rfc_1662_section_c_2() {
    // "table[1] = 0x1189 … table[255] = 0x0f78"; the register after one octet from zero is the entry of that octet.
    for (name, update) in ALL_16 {
        assert_eq!((update(0, &[1]), update(0, &[255])), (0x1189, 0x0F78), "{name}");
    }
}

/// What the compiler works out must be what a board would.
#[test]
fn tables_made_now_are_what_the_registers_bits_become() {
    let octets: [u8; 256] = core::array::from_fn(|octet| octet.to_le_bytes()[0]);
    assert_eq!(tables::table_16::<256>(8), octets.map(|octet| bitwise::update_16(0, &[octet])));
    assert_eq!(tables::table_32::<256>(8), octets.map(|octet| bitwise::update_32(0, &[octet])));
    for (follow, table) in tables::slices_16().iter().enumerate() {
        let behind = |octet| bitwise::update_16(bitwise::update_16(0, &[octet]), &[0; 16][..follow]);
        assert_eq!(*table, octets.map(behind), "{follow} octets behind");
    }
    for (follow, table) in tables::slices_32().iter().enumerate() {
        let behind = |octet| bitwise::update_32(bitwise::update_32(0, &[octet]), &[0; 16][..follow]);
        assert_eq!(*table, octets.map(behind), "{follow} octets behind");
    }
}

#[test]
fn damage_that_must_pass_shows_the_polynomial() {
    // The generator itself, least significant bit first, is a code word: 11 08 01 for x^16 + x^12 + x^5 + 1.
    let mut frame = with_fcs::<Fcs16>(b"123456789");
    for (octet, flip) in frame.iter_mut().zip([0x11, 0x08, 0x01]) {
        *octet ^= flip;
    }
    assert_eq!(Fcs16::update(Fcs16::INIT, &frame), Fcs16::RESIDUE);
}

#[test]
fn constant_lines_pass_at_one_length_only() {
    // What a break (all zero) and an idle line (all ones) look like: two zeros and four ones fit FCS-16, four zeros and eight ones FCS-32.
    fn good<C: Fcs>(fill: u8) -> Vec<usize> {
        (1..=2000).filter(|&len| C::update(C::INIT, &std::vec![fill; len]) == C::RESIDUE).collect()
    }
    assert_eq!((good::<Fcs16>(0x00), good::<Fcs16>(0xFF)), (std::vec![2], std::vec![4]));
    assert_eq!((good::<Fcs32>(0x00), good::<Fcs32>(0xFF)), (std::vec![4], std::vec![8]));
}

#[test]
fn every_implementation_equals_the_crc_crate_at_every_length() {
    let octets: Vec<u8> = (0..300_u32).map(|at| (at.wrapping_mul(2_654_435_761) >> 24) as u8).collect();
    for len in 0..=octets.len() {
        let octets = &octets[..len];
        for (name, update) in ALL_16 {
            assert_eq!(!update(0xFFFF, octets), CATALOGUE_16.checksum(octets), "{name}, {len} octets");
        }
        for (name, update) in ALL_32 {
            assert_eq!(!update(u32::MAX, octets), CATALOGUE_32.checksum(octets), "{name}, {len} octets");
        }
    }
}

proptest! {
    #[test]
    fn every_implementation_equals_the_crc_crate_in_any_pieces(
        pieces in proptest::collection::vec(proptest::collection::vec(any::<u8>(), 0..40), 0..8),
    ) {
        let whole = pieces.concat();
        for (name, update) in ALL_16 {
            let state = pieces.iter().fold(0xFFFF, |state, piece| update(state, piece));
            prop_assert_eq!(!state, CATALOGUE_16.checksum(&whole), "{}", name);
        }
        for (name, update) in ALL_32 {
            let state = pieces.iter().fold(u32::MAX, |state, piece| update(state, piece));
            prop_assert_eq!(!state, CATALOGUE_32.checksum(&whole), "{}", name);
        }
    }

    #[test]
    fn a_frame_with_its_fcs_leaves_the_residue(frame: Vec<u8>) {
        prop_assert_eq!(Fcs16::update(Fcs16::INIT, &with_fcs::<Fcs16>(&frame)), Fcs16::RESIDUE);
        prop_assert_eq!(Fcs32::update(Fcs32::INIT, &with_fcs::<Fcs32>(&frame)), Fcs32::RESIDUE);
    }
}
