use std::{vec, vec::Vec};

use proptest::prelude::*;

use super::*;

fn encoded(octets: &[u8]) -> Vec<u8> {
    let mut out = vec![0; max_encoded_len(octets.len())];
    let len = encode(&[octets], &mut out).unwrap();
    out.truncate(len);
    out
}

fn decoded(candidate: &[u8]) -> Result<Vec<u8>, Reject> {
    let mut out = vec![0; candidate.len()];
    let plain = decode(candidate, &mut out).map(|len| out[..len].to_vec());
    let mut place = candidate.to_vec();
    let in_place = decode_in_place(&mut place).map(|range| place[range].to_vec());
    assert_eq!(in_place, plain);
    plain
}

/// `first..=last`, and octets around it.
fn run(before: &[u8], first: u8, last: u8, after: &[u8]) -> Vec<u8> {
    [before, &Vec::from_iter(first..=last), after].concat()
}

/// Outputs of the PyPI package `cobs` 1.2.2; the twelve octets beginning 45 00 00 2C are a figure of the paper.
#[test]
fn vectors_of_the_paper_and_of_a_second_implementation() {
    let hex: [(&[u8], &[u8]); 11] = [
        (&[], &[1]),
        (&[0], &[1, 1]),
        (&[0, 0], &[1, 1, 1]),
        (&[0, 0x11, 0], &[1, 2, 0x11, 1]),
        (&[0x11, 0x22, 0, 0x33], &[3, 0x11, 0x22, 2, 0x33]),
        (&[0x11, 0x22, 0x33, 0x44], &[5, 0x11, 0x22, 0x33, 0x44]),
        (&[0x11, 0, 0, 0], &[2, 0x11, 1, 1, 1]),
        (b"12345\x006789", b"\x0612345\x056789"),
        (&[0xFF], &[2, 0xFF]),
        (
            &[0x45, 0, 0, 0x2C, 0x4C, 0x79, 0, 0, 0x40, 6, 0x4F, 0x37],
            &[2, 0x45, 1, 4, 0x2C, 0x4C, 0x79, 1, 5, 0x40, 6, 0x4F, 0x37],
        ),
        (b"123456789\x6E\x90", b"\x0C123456789\x6E\x90"),
    ];
    for (octets, wire) in hex {
        assert_eq!(encoded(octets), wire);
        assert_eq!(decoded(wire).as_deref(), Ok(octets));
    }
    let twice = [run(&[], 1, 0xFE, &[]), run(&[], 1, 0xFE, &[])].concat();
    let runs = [
        (run(&[], 1, 0xFD, &[]), run(&[0xFE], 1, 0xFD, &[])),
        (run(&[], 1, 0xFE, &[]), run(&[0xFF], 1, 0xFE, &[])),
        (run(&[0], 1, 0xFE, &[]), run(&[1, 0xFF], 1, 0xFE, &[])),
        (run(&[], 1, 0xFF, &[]), run(&[0xFF], 1, 0xFE, &[2, 0xFF])),
        (run(&[], 2, 0xFF, &[0]), run(&[0xFF], 2, 0xFF, &[1, 1])),
        (run(&[], 3, 0xFF, &[0, 1]), run(&[0xFE], 3, 0xFF, &[2, 1])),
        (run(&[], 1, 0xFE, &[0]), run(&[0xFF], 1, 0xFE, &[1, 1])),
        (vec![0; 254], vec![1; 255]),
        (twice.clone(), [run(&[0xFF], 1, 0xFE, &[]), run(&[0xFF], 1, 0xFE, &[])].concat()),
        ([&twice[..], &[1]].concat(), [run(&[0xFF], 1, 0xFE, &[]), run(&[0xFF], 1, 0xFE, &[2, 1])].concat()),
        (
            [run(&[], 1, 0xFE, &[0]), run(&[], 1, 0xFE, &[])].concat(),
            [run(&[0xFF], 1, 0xFE, &[1]), run(&[0xFF], 1, 0xFE, &[])].concat(),
        ),
    ];
    for (octets, wire) in runs {
        assert_eq!(encoded(&octets), wire);
        assert_eq!(decoded(&wire), Ok(octets));
    }
}

/// W-3 and W-4. `FF 01..FE` and `FF 01..FE 01` decode to the same octets elsewhere; only the first is canonical.
#[test]
fn broken_and_not_canonical_candidates_are_refused() {
    for bad in [&[2][..], &[3, 0x11], &[0], &[1, 0, 1], &[2, 5, 3, 4]] {
        assert_eq!(decoded(bad), Err(Reject::BrokenCode), "{bad:02X?}");
    }
    assert_eq!(decoded(&[]), Err(Reject::TooShort));
    assert!(decoded(&run(&[0xFF], 1, 0xFE, &[])).is_ok());
    assert_eq!(decoded(&run(&[0xFF], 1, 0xFE, &[1])), Err(Reject::NotCanonical));
    assert!(decoded(&run(&[0xFF], 1, 0xFE, &[1, 1])).is_ok());
    assert_eq!(decoded(&run(&[0xFF], 1, 0xFE, &[3, 1])), Err(Reject::BrokenCode));
}

/// A zero in the place of a code is broken. One inside a block, which no candidate has, is copied: what callers must ensure.
#[test]
fn a_zero_is_refused_as_a_code_and_copied_inside_a_block() {
    let long: std::vec::Vec<u8> = [&[0xFF][..], &[7; 254], &[3, 0, 9]].concat();
    let short: &[u8] = &[3, 0, 9];
    for wire in [short, &long] {
        let octets = decoded(wire).unwrap();
        assert!(octets.ends_with(&[0, 9]));
        assert_ne!(encoded(&octets), wire, "so it is not canonical");
    }
    for wire in [&[0][..], &[1, 0], &[2, 7, 0, 1], &[[0xFF; 255].as_slice(), &[0, 1]].concat()] {
        assert_eq!(decoded(wire), Err(Reject::BrokenCode), "{wire:02X?}");
    }
}

/// n + max(1, ceil(n/254)), reached by octets without a zero; the values are those of the PyPI package `cobs`.
#[test]
fn the_worst_case_is_exact() {
    for (len, longest) in [(0, 1), (1, 2), (254, 255), (255, 257), (508, 510), (509, 512), (1500, 1506)] {
        assert_eq!(max_encoded_len(len), longest);
        assert_eq!(encoded(&vec![0x55; len]).len(), longest);
        assert_eq!(encode(&[&vec![0x55; len]], &mut vec![0; longest - 1]), Err(NoRoom));
    }
}

/// Octets with few, some or many zeros, of lengths around the ends of blocks too.
fn octets() -> impl Strategy<Value = Vec<u8>> {
    (prop_oneof![0_usize..40, 240_usize..270, 495_usize..520, 700_usize..1100], 0_u8..4).prop_flat_map(
        |(len, kind)| {
            proptest::collection::vec(
                any::<u8>().prop_map(move |octet| match kind {
                    0 => octet.max(1),
                    1 if octet < 4 => 0,
                    1 => octet.max(1),
                    2 => octet & 1,
                    _ => octet,
                }),
                len,
            )
        },
    )
}

proptest! {
    #[test]
    fn encodes_and_decodes_as_the_cobs_crate_does(octets in octets(), parts in proptest::collection::vec(1_usize..300, 1..5)) {
        let wire = encoded(&octets);
        prop_assert_eq!(&wire, &::cobs::encode_vec(&octets));
        prop_assert_eq!(decoded(&wire), Ok(octets.clone()));
        // In parts of any lengths, and by blocks as boards do it.
        let mut rest = &octets[..];
        let mut pieces: Vec<&[u8]> = Vec::new();
        for len in parts.into_iter().cycle() {
            let (piece, after) = rest.split_at(len.min(rest.len()));
            pieces.push(piece);
            rest = after;
            if rest.is_empty() {
                break;
            }
        }
        let mut out = vec![0; max_encoded_len(octets.len())];
        prop_assert_eq!(encode(&pieces, &mut out), Ok(wire.len()));
        prop_assert_eq!(&out[..wire.len()], &wire);
        prop_assert_eq!(super::encode::blocks(&pieces, &mut out), Ok(wire.len()));
        prop_assert_eq!(&out[..wire.len()], &wire);
    }

    /// W-4: what is accepted at all is what the encoder makes, so no two candidates decode to the same octets.
    #[test]
    fn only_the_encoders_own_output_is_accepted(octets in octets(), at: usize, octet in 1..=255_u8, more in 0..3_usize) {
        let mut candidate = encoded(&octets);
        let at = at % candidate.len();
        candidate[at] = octet;
        candidate.extend(vec![1; more]);
        if let Ok(plain) = decoded(&candidate) {
            prop_assert_eq!(encoded(&plain), candidate);
        }
    }

    /// Any octets but zero may lie between two delimiters.
    #[test]
    fn a_refused_candidate_is_left_as_it_came(candidate in proptest::collection::vec(1..=255_u8, 1..600)) {
        use crate::fcs::Fcs16;
        let mut after = candidate.clone();
        match super::decode::check::<Fcs16>(&mut after) {
            Ok(frame) => prop_assert_eq!(decoded(&candidate).unwrap()[..frame.len()].to_vec(), &after[frame]),
            Err(_) => prop_assert_eq!(&after, &candidate),
        }
    }
}
