use std::{format, string::String, string::ToString, vec, vec::Vec};

use proptest::prelude::*;
use serde::{Deserialize, Serialize};

use super::*;

/// One variant per row of the golden table; its number is its place.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
enum Golden {
    U8(u8),
    U16(u16),
    I16(i16),
    F32(f32),
    F64(f64),
    Text(String),
    Pair(u8, u16),
    Named { rate: i16, on: bool },
    Maybe(Option<u8>),
    Unit,
    Inner(Move),
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
enum Move {
    Open,
    Close,
    Stop,
}

/// Payloads whose fields are printed in the postcard wire format text (`spec/src/wire-format.md`, sections "varint",
/// "Zigzag", "f32", "f64" and "Tagged unions"), each behind its message number.
fn golden() -> Vec<(Golden, Vec<u8>)> {
    // -32.005859375, the example of the text, has exactly these bits.
    let floating = f32::from_bits(0xC200_0600);
    vec![
        (Golden::U8(200), vec![0, 0xC8]),
        (Golden::U16(127), vec![1, 0x7F]),
        (Golden::U16(128), vec![1, 0x80, 0x01]),
        (Golden::U16(16_383), vec![1, 0xFF, 0x7F]),
        (Golden::U16(16_384), vec![1, 0x80, 0x80, 0x01]),
        (Golden::U16(16_385), vec![1, 0x81, 0x80, 0x01]),
        (Golden::U16(65_535), vec![1, 0xFF, 0xFF, 0x03]),
        (Golden::I16(0), vec![2, 0x00]),
        (Golden::I16(-1), vec![2, 0x01]),
        (Golden::I16(1), vec![2, 0x02]),
        (Golden::I16(63), vec![2, 0x7E]),
        (Golden::I16(-64), vec![2, 0x7F]),
        (Golden::I16(64), vec![2, 0x80, 0x01]),
        (Golden::I16(-65), vec![2, 0x81, 0x01]),
        (Golden::I16(32_767), vec![2, 0xFE, 0xFF, 0x03]),
        (Golden::I16(-32_768), vec![2, 0xFF, 0xFF, 0x03]),
        (Golden::F32(floating), vec![3, 0x00, 0x06, 0x00, 0xC2]),
        (Golden::F64(-32.005_859_375), vec![4, 0x00, 0x00, 0x00, 0x00, 0xC0, 0x00, 0x40, 0xC0]),
        (Golden::Text("hello".to_string()), vec![5, 0x05, 0x68, 0x65, 0x6C, 0x6C, 0x6F]),
        (Golden::Pair(1, 2), vec![6, 0x01, 0x02]),
        (Golden::Named { rate: -1, on: true }, vec![7, 0x01, 0x01]),
        (Golden::Maybe(None), vec![8, 0x00]),
        (Golden::Maybe(Some(7)), vec![8, 0x01, 0x07]),
        (Golden::Unit, vec![9]),
        (Golden::Inner(Move::Stop), vec![10, 0x02]),
    ]
}

#[test]
fn payloads_match_the_postcard_wire_format_text() {
    let mut buffer = [0; 32];
    for (value, payload) in golden() {
        assert_eq!(write(&value, &mut buffer), Ok(&payload[..]), "{value:?}");
        assert_eq!(read::<Golden>(&payload), Ok(value));
    }
}

#[test]
fn octets_left_over_are_refused_and_counted() {
    for (value, mut payload) in golden() {
        for extra in 1..=3_u16 {
            payload.push(0);
            assert_eq!(read::<Golden>(&payload), Err(ReadError::LeftOver { octets: extra }), "{value:?}");
        }
    }
}

#[test]
fn every_cut_of_a_payload_is_refused() {
    for (value, payload) in golden() {
        for len in 0..payload.len() {
            let wanted = if len == 0 { ReadError::BadMessageNumber } else { ReadError::CutShort };
            assert_eq!(read::<Golden>(&payload[..len]), Err(wanted), "{value:?} cut to {len}");
        }
    }
}

#[test]
fn each_fault_has_its_own_name() {
    let number = |number| MessageNumber::new(number).unwrap();
    for (payload, wanted) in [
        (&[11, 0][..], ReadError::UnknownMessage(number(11))),
        (&[0xC8, 0x01], ReadError::UnknownMessage(number(200))),
        (&[0x80, 0x00, 1], ReadError::BadMessageNumber),
        (&[0x80, 0x80, 0x01], ReadError::BadMessageNumber),
        (&[7, 0x01, 0x02], ReadError::BadField),
        (&[8, 0x02], ReadError::BadField),
        (&[10, 0x03], ReadError::BadField),
        (&[5, 0x01, 0xFF], ReadError::BadField),
        // Wire format text, section "varint", "Maximum encoded length": a u16 takes three octets at most, and must fit.
        (&[1, 0x80, 0x80, 0x80, 0x00], ReadError::BadField),
        (&[1, 0xFF, 0xFF, 0x07], ReadError::BadField),
    ] {
        assert_eq!(read::<Golden>(payload), Err(wanted), "{payload:02X?}");
        assert!(!format!("{wanted}").is_empty());
    }
    // The same text, section "Canonicalization": the longer form is taken.
    assert_eq!(read::<Golden>(&[1, 0x80, 0x80, 0x00]), Ok(Golden::U16(0)));
}

#[test]
fn what_cannot_be_written_is_said() {
    assert_eq!(write(&Golden::U16(300), &mut [0; 2]), Err(WriteError::NoRoom));
    assert_eq!(write(&(), &mut [0; 4]), Err(WriteError::NoMessageNumber));
    assert_eq!(write(&u32::MAX, &mut [0; 8]), Err(WriteError::NoMessageNumber));
}

/// Every shape that serde knows.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
enum Shape {
    Small(bool, i8, u8, char),
    Wide { a: i16, b: i32, c: i64, d: i128 },
    Counts(u16, u32, u64, u128),
    Floats(f32, f64),
    List(Vec<u16>),
    Map(std::collections::BTreeMap<u8, String>),
    Maybe(Option<i32>),
    Nested(Inner, Unit, (u8, Pair), ()),
    Bytes(String),
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct Inner {
    of: Option<Move>,
    also: Wrapped,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct Wrapped(u32);

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct Pair(i16, bool);

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct Unit;

fn shapes() -> impl Strategy<Value = Shape> {
    prop_oneof![
        any::<(bool, i8, u8, char)>().prop_map(|(a, b, c, d)| Shape::Small(a, b, c, d)),
        any::<(i16, i32, i64, i128)>().prop_map(|(a, b, c, d)| Shape::Wide { a, b, c, d }),
        any::<(u16, u32, u64, u128)>().prop_map(|(a, b, c, d)| Shape::Counts(a, b, c, d)),
        any::<(f32, f64)>().prop_map(|(a, b)| Shape::Floats(a, b)),
        proptest::collection::vec(any::<u16>(), 0..200).prop_map(Shape::List),
        proptest::collection::btree_map(any::<u8>(), ".{0,4}", 0..8).prop_map(Shape::Map),
        any::<Option<i32>>().prop_map(Shape::Maybe),
        any::<(u32, u8, i16, bool)>().prop_map(|(a, b, c, d)| {
            let of = d.then_some(Move::Stop);
            Shape::Nested(Inner { of, also: Wrapped(a) }, Unit, (b, Pair(c, d)), ())
        }),
        ".{0,200}".prop_map(Shape::Bytes),
    ]
}

/// A text that serde only has as a formatter.
struct Spelt(&'static str, usize);

impl Serialize for Spelt {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let Self(text, times) = *self;
        let spelt = text.repeat(times);
        serializer.serialize_newtype_variant("Spelt", 1, "Spelt", &Format(&spelt))
    }
}

struct Format<'t>(&'t str);

impl Serialize for Format<'_> {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self.0)
    }
}

/// A sequence whose length nobody knows.
struct Endless;

impl Serialize for Endless {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_seq((0..3_u8).filter(|octet| *octet != 1))
    }
}

#[test]
fn texts_and_lengths_that_are_not_known_before() {
    let mut buffer = [0; 300];
    for times in [0, 1, 40] {
        let mut theirs = [0; 300];
        let theirs: &[u8] = postcard::to_slice(&Spelt("dome ", times), &mut theirs).unwrap();
        assert_eq!(write(&Spelt("dome ", times), &mut buffer), Ok(theirs), "{times} times");
    }
    assert_eq!(write(&Spelt("dome ", 1), &mut [0; 6]), Err(WriteError::NoRoom));
    assert_eq!(write(&Endless, &mut buffer), Err(WriteError::NotWritable));
}

/// A text is spelt twice, for its length and for its octets: one that changes in between, or fails the second time, is not writable,
/// and only what ran out of room is told so.
#[test]
fn a_text_that_is_not_the_same_twice_is_not_writable() {
    struct Turns(core::cell::Cell<u8>, [Option<&'static str>; 2]);
    impl core::fmt::Display for Turns {
        fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
            let turn = self.0.replace(1);
            f.write_str(self.1[usize::from(turn)].ok_or(core::fmt::Error)?)
        }
    }
    impl Serialize for Turns {
        fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
            serializer.collect_str(self)
        }
    }
    let turns = |first, second| Turns(core::cell::Cell::new(0), [first, second]);
    assert_eq!(write(&turns(Some("dome"), Some("mast")), &mut [0; 8]), Ok(&b"\x04mast"[..]));
    for second in [Some("dom"), Some("domes"), None] {
        assert_eq!(
            write(&turns(Some("dome"), second), &mut [0; 8]),
            Err(WriteError::NotWritable),
            "{second:?}"
        );
    }
    assert_eq!(write(&turns(None, Some("dome")), &mut [0; 8]), Err(WriteError::NotWritable));
    assert_eq!(write(&turns(Some("dome"), Some("dome")), &mut [0; 4]), Err(WriteError::NoRoom));
}

proptest! {
    #[test]
    fn every_shape_is_written_as_the_postcard_crate_writes_it(shape in shapes(), room in 0..64_usize) {
        let mut theirs = vec![0; 2_000];
        let theirs: &[u8] = postcard::to_slice(&shape, &mut theirs).unwrap();
        let mut ours = vec![0; theirs.len()];
        prop_assert_eq!(write(&shape, &mut ours), Ok(theirs));
        let mut short = vec![0; room.min(theirs.len() - 1)];
        prop_assert_eq!(write(&shape, &mut short), Err(WriteError::NoRoom));
    }

    #[test]
    fn what_is_written_is_read(rate: i16, on: bool, text: String, float: f64) {
        let mut buffer = vec![0; 600];
        for value in [Golden::Named { rate, on }, Golden::Text(text.chars().take(100).collect())] {
            let payload = write(&value, &mut buffer).unwrap();
            prop_assert_eq!(read::<Golden>(payload), Ok(value));
        }
        let payload = write(&Golden::F64(float), &mut buffer).unwrap();
        prop_assert_eq!(payload.split_at(1), (&[4_u8][..], &float.to_le_bytes()[..]));
    }

    #[test]
    fn any_octets_give_a_value_or_a_refusal(payload in proptest::collection::vec(any::<u8>(), 0..24)) {
        if let Ok(value) = read::<Golden>(&payload) {
            let mut buffer = [0; 64];
            let again = write(&value, &mut buffer).unwrap();
            prop_assert!(again.len() <= payload.len(), "the canonical form is never longer");
        }
    }
}

/// A type that looks at the form it is written in, and one that has no form at all.
#[test]
fn the_form_is_for_machines_and_what_refuses_itself_is_not_writable() {
    struct Looks;
    impl Serialize for Looks {
        fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
            assert!(!serializer.is_human_readable());
            serializer.serialize_unit_variant("Looks", 3, "Looks")
        }
    }
    struct Refuses;
    impl Serialize for Refuses {
        fn serialize<S: serde::Serializer>(&self, _: S) -> Result<S::Ok, S::Error> {
            Err(serde::ser::Error::custom("no"))
        }
    }
    assert_eq!(write(&Looks, &mut [0; 4]), Ok(&[3][..]));
    assert_eq!(write(&Refuses, &mut [0; 4]), Err(WriteError::NotWritable));
}
