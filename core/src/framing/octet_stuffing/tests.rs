use std::{vec, vec::Vec};

use proptest::prelude::*;

use super::*;
use crate::{
    fcs::{Fcs16, Fcs32},
    frame::{Read, Reader},
};

fn wire<C: Fcs>(map: ControlMap, frame: &[u8]) -> Vec<u8> {
    let fcs = C::octets(C::update(C::INIT, frame));
    let mut out = vec![0; <OctetStuffing as Framing>::max_encoded_len(frame.len() + C::LEN)];
    let len = OctetStuffing::new(map).encode(&[frame, &fcs[..C::LEN]], Lead::Delimiter, &mut out).unwrap();
    out.truncate(len);
    out
}

/// FCS by the Python package crccheck 1.3.1, stuffing by RFC 1662 section 4.2.
#[test]
fn vectors_of_rfc_1662() {
    let none = ControlMap::NONE;
    assert_eq!(wire::<Fcs16>(none, b"123456789"), b"~123456789\x6E\x90~");
    assert_eq!(wire::<Fcs32>(none, b"123456789"), b"~123456789\x26\x39\xF4\xCB~");
    let configure = [0xFF, 0x03, 0xC0, 0x21, 0x01, 0x01, 0x00, 0x04];
    assert_eq!(wire::<Fcs16>(none, &configure), [&[0x7E][..], &configure, &[0xD1, 0xB5, 0x7E]].concat());
    assert_eq!(
        wire::<Fcs16>(ControlMap::ALL, &configure),
        [
            0x7E, 0xFF, 0x7D, 0x23, 0xC0, 0x21, 0x7D, 0x21, 0x7D, 0x21, 0x7D, 0x20, 0x7D, 0x24, 0xD1, 0xB5,
            0x7E
        ]
    );
    assert_eq!(wire::<Fcs16>(none, &[0x7E, 0x7D]), [0x7E, 0x7D, 0x5E, 0x7D, 0x5D, 0xF1, 0xCD, 0x7E]);
    assert_eq!(wire::<Fcs16>(none, &[0x7D, 0x5E]), [0x7E, 0x7D, 0x5D, 0x5E, 0x00, 0xF4, 0x7E]);
    // The FCS itself is stuffed: it ends in 7E, is 7E 7D, is 7D 7E.
    assert_eq!(wire::<Fcs16>(none, &[0x00, 0x52]), [0x7E, 0x00, 0x52, 0xD0, 0x7D, 0x5E, 0x7E]);
    assert_eq!(wire::<Fcs16>(none, &[0x1B, 0x00]), [0x7E, 0x1B, 0x00, 0x7D, 0x5E, 0x7D, 0x5E, 0x7E]);
    assert_eq!(wire::<Fcs16>(none, &[0x28, 0x18]), [0x7E, 0x28, 0x18, 0x7D, 0x5D, 0x7D, 0x5E, 0x7E]);
    // Section 4.2: the escapes of the flow-control characters, and that the top bit makes them others.
    let mut out = [0; 16];
    let map = ControlMap(1 << 0x03 | 1 << 0x11 | 1 << 0x13);
    assert_eq!(map, ControlMap::CONSOLE_SAFE);
    let len = encode(map, &[&[0x03, 0x11, 0x13, 0x91, 0x93]], &mut out).unwrap();
    assert_eq!(out[..len], [0x7D, 0x23, 0x7D, 0x31, 0x7D, 0x33, 0x91, 0x93]);
    assert_eq!(
        decode(ControlMap::NONE, &[0x7D, 0xB1, 0x7D, 0xB3, 0x7D, 0x31], &mut out),
        Ok(3),
        "any escaped octet is accepted"
    );
    assert_eq!(out[..3], [0x91, 0x93, 0x11]);
}

/// What a reader with a buffer of 64 octets makes of a stream: steps in short.
fn steps(map: ControlMap, stream: &[u8]) -> Vec<Result<Vec<u8>, Reject>> {
    let (mut state, mut buffer) = (State::default(), [0; 64]);
    let (mut rest, mut all) = (stream, Vec::new());
    loop {
        let fed = OctetStuffing::new(map).feed::<Fcs16>(&mut state, rest, &mut buffer);
        rest = &rest[fed.consumed..];
        match fed.step {
            Step::More => return all,
            Step::Frame { start, len } => all.push(Ok(buffer[start..][..len].to_vec())),
            Step::Text { len } => all.push(Ok(buffer[..len].to_vec())),
            Step::Refused { reject, .. } => all.push(Err(reject)),
        }
    }
}

/// RFC 1662 sections 4.2 and 4.3 (W-5, W-10): an abort is not an FCS error, nor is a frame of less than four octets.
#[test]
fn abort_and_minimum_frame() {
    let none = ControlMap::NONE;
    assert_eq!(steps(none, &[0x7E, 0x80, 0x01, 0x02, 0x7D, 0x7E]), [Err(Reject::Aborted)]);
    assert_eq!(steps(none, &[0x7E, 0x80, 0x01, 0x02, 0x7E]), [Err(Reject::TooShort)]);
    assert_eq!(steps(none, &[0x7E, 0x80, 0x01, 0x02, 0x03, 0x7E]), [Err(Reject::BadFcs)]);
    // Two delimiters in a row are silence (section 4.4.2).
    assert_eq!(steps(none, &[0x7E; 9]), []);
    // The frame after an abort is whole.
    let stream = [&[0x7E, 0x80, 0x7D][..], &wire::<Fcs16>(none, &[0x80, 7, 1])].concat();
    assert_eq!(steps(none, &stream), [Err(Reject::Aborted), Ok(vec![0x80, 7, 1])]);
}

/// W-5: what the map names and is not escaped was put in on the way, in frames and in gaps; text keeps it.
#[test]
fn octets_that_the_map_names_are_dropped() {
    let map = ControlMap::CONSOLE_SAFE;
    let mut stream = wire::<Fcs16>(map, &[0x80, 0x03, 0x11, 0x13, 0x55]);
    for at in (1..stream.len()).rev().filter(|at| *at != 3 && *at != 5 && *at != 7) {
        stream.insert(at, 0x11);
    }
    stream.extend([0x13, 0x11, 0x7E]);
    assert_eq!(steps(map, &stream), [Ok(vec![0x80, 0x03, 0x11, 0x13, 0x55])]);
    // Also a line end within what looks like text so far.
    let mut stream = wire::<Fcs16>(ControlMap::ALL, &[b'a', b'b', 0x80]);
    stream.insert(2, b'\n');
    assert_eq!(steps(ControlMap::ALL, &stream), [Ok(vec![b'a', b'b', 0x80])]);
    assert_eq!(steps(ControlMap::ALL, b"~two\r\n}\rlines\n}~"), [Ok(b"two\r\n}\rlines\n}".to_vec())]);
}

/// The prompt of a console on the same wire shows before its delimiter.
#[test]
fn pending_text_is_what_looks_like_text_so_far() {
    let mut reader = Reader::<OctetStuffing, Fcs16, 48>::new(OctetStuffing::console_safe());
    reader.feed(b"login: ");
    assert_eq!(reader.pending_text(), b"login: ");
    reader.feed(b"}A");
    assert_eq!(reader.pending_text(), b"login: ", "up to the first escape octet");
    reader.feed(&[0x80]);
    assert_eq!(reader.pending_text(), b"");
    let (_, read) = reader.feed(&[0x7E]);
    assert!(matches!(read, Some(Read::Refused { reject: Reject::BadFcs, .. })));
}

proptest! {
    /// A frame of as many octets as the buffer has is taken, also where every octet of it comes escaped, and also where its
    /// wire image is text alone.
    #[test]
    fn the_worst_case_fits(
        frame in proptest::collection::vec(prop::sample::select(vec![0x7E_u8, 0x7D, 0x00, 0x5E, b'a', 0x1F]), 1..100),
        map: u32,
    ) {
        let map = ControlMap(map);
        let (mut state, mut buffer) = (State::default(), vec![0; frame.len() + 2]);
        let stream = wire::<Fcs16>(map, &frame);
        let fed = OctetStuffing::new(map).feed::<Fcs16>(&mut state, &stream, &mut buffer);
        let len = frame.len();
        let wanted = if len < 2 { Step::Refused { reject: Reject::TooShort, len: 3 } } else { Step::Frame { start: 0, len } };
        if len >= 2 {
            prop_assert_eq!(fed, Fed { consumed: stream.len(), step: wanted });
            prop_assert_eq!(&buffer[..len], &frame);
        }
    }

    /// Both ways of copying, the one of hosts and the one of boards, stop where RFC 1662 section 4.2 names an octet, or where there is no
    /// more room; a host may stop at any control character if the map names some.
    #[test]
    fn copies_up_to_the_first_octet_that_is_not_itself(
        from in proptest::collection::vec(prop_oneof![12 => 0x20..0x7D_u8, 2 => 0x80..=0xFF_u8, 1 => 0x00..0x20_u8, 1 => 0x7D..0x7F_u8], 0..60),
        room in 0_usize..60,
        map: u32,
    ) {
        for map in [ControlMap(map), ControlMap::NONE, ControlMap::CONSOLE_SAFE, ControlMap::ALL] {
            let stops = |&octet: &u8| octet == 0x7E || octet == 0x7D || (octet < 0x20 && map.0 >> octet & 1 == 1);
            let wanted = from.iter().position(stops).unwrap_or(from.len()).min(room);
            let mut to = vec![0xEE; room];
            prop_assert_eq!(copy_one_by_one(map, &from, &mut to), wanted);
            prop_assert_eq!(&to[..wanted], &from[..wanted]);
            prop_assert!(to[wanted..].iter().all(|&octet| octet == 0xEE), "no octet after them is touched");
            let stops = |octet: &u8| stops(octet) || (*octet < 0x20 && map != ControlMap::NONE);
            let on_a_host = from.iter().position(stops).unwrap_or(from.len()).min(room);
            let taken = copy_plain(map, &from, &mut to);
            prop_assert_eq!(taken, if cfg!(feature = "fcs-host") { on_a_host } else { wanted });
            prop_assert_eq!(&to[..taken], &from[..taken]);
        }
    }

    #[test]
    fn decodes_what_it_encodes(octets: Vec<u8>, map: u32) {
        let map = ControlMap(map);
        let mut wire = vec![0; max_encoded_len(octets.len())];
        let len = encode(map, &[&octets], &mut wire).unwrap();
        wire.truncate(len);
        let is_kept_off = |octet: u8| octet == DELIMITER || (octet < 32 && map.0 >> octet & 1 == 1);
        prop_assert!(!wire.iter().any(|&octet| is_kept_off(octet)));
        let mut out = vec![0; octets.len()];
        prop_assert_eq!(decode(map, &wire, &mut out), Ok(octets.len()));
        prop_assert_eq!(&out, &octets);
        prop_assert_eq!(decode_in_place(map, &mut wire), Ok(octets.len()));
        prop_assert_eq!(&wire[..octets.len()], &octets);
    }
}

#[test]
fn a_framing_tells_its_map() {
    for map in [ControlMap::NONE, ControlMap::ALL, ControlMap::CONSOLE_SAFE] {
        assert_eq!(OctetStuffing::new(map).map(), map);
    }
    assert_eq!(OctetStuffing::console_safe().map(), ControlMap::CONSOLE_SAFE);
}
