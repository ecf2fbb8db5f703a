use super::*;

fn said(octets: &[u8]) -> Option<String> {
    Beyond::read(octets).map(|beyond| beyond.sentence())
}

/// The bodies are laid out by hand from the tables of section 11.
#[test]
fn every_extension_is_read_by_its_table() {
    assert_eq!(said(&[0xE0, 0x10, 1, 2, 0, 0]).unwrap(), "time request: sent 513");
    assert_eq!(
        said(&[0xE0, 0x11, 1, 0, 0, 0, 2, 0, 0, 0, 3, 0, 0, 0]).unwrap(),
        "time: sent 1, heard 2, answered 3"
    );
    assert_eq!(
        said(&[0xE0, 0x12, 0x31, 7, 0xEF, 0xBE, 0xAD, 0xDE, 0, 1, 0, 0, 0xF0, 0, 5, 0]).unwrap(),
        "transfer offer: round 3, number 7, crc deadbeef, size 256, part 240, topic 5"
    );
    assert_eq!(
        said(&[0xE0, 0x12, 0x43, 7, 0xEF, 0xBE, 9, 0, 1, 0xAB]).unwrap(),
        "transfer part that asks: round 4, number 7, tag beef, index 65545, content ab"
    );
    assert_eq!(
        said(&[0xE0, 0x12, 0x45, 7, 0xEF, 0xBE, 9, 0, 0, 5, 0, 0, 0, 32]).unwrap(),
        "transfer map: round 4, number 7, tag beef, base 9, held 00000005, window 32"
    );
    assert!(said(&[0xE0, 0x12, 8, 7, 0xEF, 0xBE, 1]).unwrap().ends_with("larger than the receiver takes"));
    assert_eq!(
        said(&[0xE0, 0x13, 8, 7, 6, 5, 4, 3, 2, 1, 0, 0x2C, 1]).unwrap(),
        "join: identity 0102030405060708, address 0, awake_ms 300"
    );
    assert_eq!(
        said(&[0xE0, 0x14, 8, 7, 6, 5, 4, 3, 2, 1, 0, 4, 0, 0, 0, 0, 0, 0, 0, 0]).unwrap(),
        "welcome: identity 0102030405060708, answer taken, address 4, holder 0000000000000000"
    );
    let turn = Beyond::read(&[0xF0, 4, 0, 0x15]).unwrap();
    assert_eq!((turn.name, turn.addresses), ("turn", Some(Addresses { to: 4, from: 0 })));
    assert_eq!(
        said(&[0xE0, 0x16, 3, 1, 0, 0, 0, 0x34, 0x12]).unwrap(),
        "air sent: time 1 µs, datagram that ends with 1234"
    );
    assert_eq!(
        said(&[0xE0, 0x16, 4, 1, 0x34, 0x12]).unwrap(),
        "air not sent: reason the air was busy, datagram that ends with 1234"
    );
    assert_eq!(
        said(&[0xF0, 4, 0, 0x17, 0x45, 0x23, 1, 0, 0xFF, 0xFF, 3, 0, 200]).unwrap(),
        "to all: session 00012345, broadcast 0003ffff, next 200"
    );
    assert_eq!(said(&[0xF0, 0, 4, 0x17]).unwrap(), "to all request");
    assert_eq!(
        said(&[0xF0, 0, 4, 0x18, 0x45, 0x23, 1, 0, 0x60, 0x11, 0x23, 0x50, 0x53, 7, 42]).unwrap(),
        "arrival: mine 00012345, started woke from sleep, agreement 53502311, payload 072a"
    );
    assert_eq!(
        said(&[0xF0, 4, 0, 0x18, 0x45, 0x23, 1, 0, 0x80]).unwrap(),
        "arrival answer: mine 00012345, answer taken, more waits"
    );
}

#[test]
fn bodies_that_do_not_fit_are_shown_and_others_are_not_ours() {
    assert_eq!(said(&[0xE0, 0x10, 1]).unwrap(), "time request: a body that does not fit it, 01");
    assert_eq!(said(&[0xE0, 0x15, 9]).unwrap(), "turn: a body that does not fit it, 09");
    // A number of more than 18 bits.
    let told = [0xF0, 4, 0, 0x17, 0, 0, 4, 0, 0, 0, 0, 0, 0];
    assert_eq!(said(&told).unwrap(), "to all: a body that does not fit it, 000004000000000000");
    for other in [&[0xE0, 0x20, 1][..], &[0xE0, 0x01, 1, 2], &[0x40, 0x10], &[0xE1, 0x15], &[0xF0, 1], &[]] {
        assert_eq!(said(other), None, "{other:02x?}");
    }
}

/// The fields cover the body, octet for octet, whatever it is.
#[test]
fn fields_cover_the_body() {
    for code in 0x10..=Told::CODE {
        for first in 0..=255 {
            for len in 0..24 {
                let mut frame = vec![0xE0, code];
                frame.resize(2 + len, first);
                let beyond = Beyond::read(&frame).unwrap();
                assert_eq!(beyond.fields.iter().map(|field| field.len).sum::<usize>(), len);
            }
        }
    }
}
