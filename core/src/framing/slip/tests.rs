use std::{vec, vec::Vec};

use proptest::prelude::*;

use super::*;

fn wire(octets: &[u8]) -> Vec<u8> {
    let mut out = vec![0; <Slip as Framing>::max_encoded_len(octets.len())];
    let len = Slip.encode(&[octets], Lead::Delimiter, &mut out).unwrap();
    out.truncate(len);
    out
}

/// RFC 1055: END 0xC0, ESC 0xDB, ESC_END 0xDC, ESC_ESC 0xDD, and an END before the packet.
#[test]
fn vectors_of_rfc_1055() {
    let vectors: [(&[u8], &[u8]); 5] = [
        (&[0xC0], &[0xC0, 0xDB, 0xDC, 0xC0]),
        (&[0xDB], &[0xC0, 0xDB, 0xDD, 0xC0]),
        (&[0xDB, 0xDC], &[0xC0, 0xDB, 0xDD, 0xDC, 0xC0]),
        (&[1, 0xC0, 2, 0xDB, 3], &[0xC0, 1, 0xDB, 0xDC, 2, 0xDB, 0xDD, 3, 0xC0]),
        (&[], &[0xC0, 0xC0]),
    ];
    for (octets, expected) in vectors {
        assert_eq!(wire(octets), expected);
    }
}

/// W-6.
#[test]
fn an_escape_octet_before_any_other_octet_is_refused() {
    let mut out = [0; 8];
    for bad in [&[0xDB][..], &[1, 2, 0xDB], &[0xDB, 0x00], &[0xDB, 0xDB], &[0xDB, 0xDE, 5]] {
        assert_eq!(decode(bad, &mut out), Err(Reject::BadEscape));
        assert_eq!(decode_in_place(&mut bad.to_vec()), Err(Reject::BadEscape));
        let stream = [bad, &[DELIMITER]].concat();
        let fed = Slip.feed::<crate::fcs::Fcs16>(&mut State::default(), &stream, &mut out);
        assert!(matches!(fed.step, Step::Refused { reject: Reject::BadEscape, .. }), "{fed:?}");
    }
}

#[test]
fn the_delimiter_and_the_escape_are_special_to_slip_and_nothing_else_is() {
    for octet in 0..=255_u8 {
        let special = special(u64::from_le_bytes([octet; 8])) != 0;
        assert_eq!(special, octet == 0xC0 || octet == 0xDB, "{octet:02X}");
    }
}

proptest! {
    #[test]
    fn decodes_what_it_encodes(octets in proptest::collection::vec(prop_oneof![any::<u8>(), 0xC0..=0xDD_u8], 0..300)) {
        let mut wire = wire(&octets);
        wire.pop();
        wire.remove(0);
        prop_assert!(!wire.contains(&DELIMITER));
        let mut out = vec![0; octets.len()];
        prop_assert_eq!(decode(&wire, &mut out), Ok(octets.len()));
        prop_assert_eq!(&out, &octets);
        prop_assert_eq!(decode_in_place(&mut wire), Ok(octets.len()));
        prop_assert_eq!(&wire[..octets.len()], &octets);
    }
}
