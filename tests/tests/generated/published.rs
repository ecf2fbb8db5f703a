//! Values whose octets are published, in every language.
//!
//! Source: the postcard wire format specification, version 1 (`spec/src/wire-format.md` of the crate's repository). What it does not print
//! follows from its rules, and the `postcard` crate makes the same.

use crate::{
    Asked,
    case::{Atom, case, hex},
    compare,
};
use bellwire_cli::{agreement::Agreement, messages::MessageKind};
use bellwire_tests::seed::seed;

/// Type of the only field, its value, its octets.
const ONE_FIELD: &[(&str, i128, &str)] = &[
    // Printed in the specification; floating-point numbers by their bits (IEEE 754), both -32.005859375.
    ("u16", 127, "7f"),
    ("u16", 128, "8001"),
    ("u16", 16_383, "ff7f"),
    ("u16", 16_384, "808001"),
    ("u16", 16_385, "818001"),
    ("u16", 65_535, "ffff03"),
    ("i16", -1, "01"),
    ("i16", 1, "02"),
    ("i16", 63, "7e"),
    ("i16", -64, "7f"),
    ("i16", 64, "8001"),
    ("i16", -65, "8101"),
    ("i16", 32_767, "feff03"),
    ("i16", -32_768, "ffff03"),
    ("f32", 0xC200_0600, "000600c2"),
    ("f64", 0xC040_00C0_0000_0000, "00000000c00040c0"),
    // By its rules.
    ("u8", 200, "c8"),
    ("i8", -1, "ff"),
    ("i16", 0, "00"),
    ("u32", 300, "ac02"),
    ("u32", 4_294_967_295, "ffffffff0f"),
    ("i32", -2_147_483_648, "ffffffff0f"),
    ("u64", 18_446_744_073_709_551_615, "ffffffffffffffffff01"),
    ("i64", -9_223_372_036_854_775_808, "ffffffffffffffffff01"),
    ("f32", 0x3F80_0000, "0000803f"),
    ("bool", 0, "00"),
    ("bool", 1, "01"),
];

/// Refused by the specification: a number of too many octets or too large for its type, a truth that is neither.
const REFUSED: &[(&str, &str)] =
    &[("u16", "80808000"), ("u16", "ffff07"), ("u16", "ffff8300"), ("bool", "02"), ("maybe", "02")];

/// Whole messages, as variants of an enum: values for the programs, the octets.
const MESSAGES: &[(&str, &str)] = &[
    ("0", "00"),
    ("1 300", "01ac02"),
    ("2 1 -2", "020103"),
    ("3 70000 1", "03f0a20401"),
    ("4 x", "0400"),
    ("4 x68656c6c6f", "040568656c6c6f"),
    ("5 x010203", "0503010203"),
    ("6 1 2 3", "06010203"),
    ("7 0", "0700"),
    ("7 1 7", "070107"),
    ("8 7 -125 x626d65 1 100000 1 1000", "0807f90103626d6501a08d0601e807"),
];

fn agreement() -> Agreement {
    let mut text = String::from("agreement = \"published\"\nversion = 1\nhub = \"desk\"\n");
    let mut number = 0;
    let mut message = |name: &str, fields: &[&str]| {
        text.push_str(&format!(
            "\n[[message]]\nname = \"{name}\"\nnumber = {number}\nclass = \"report\"\nway = \"either\"\n"
        ));
        number += 1;
        for (place, field) in fields.iter().enumerate() {
            let mut words = field.split(' ');
            let kind = words.next().unwrap();
            text.push_str(&format!("\n[[message.field]]\nname = \"f{place}\"\ntype = \"{kind}\"\n"));
            for word in words {
                text.push_str(&format!("{}\n", word.replace('=', " = ")));
            }
        }
    };
    message("nothing", &[]);
    message("one", &["u16"]);
    message("two", &["u8", "i16"]);
    message("named", &["u32", "bool"]);
    message("told", &["text most=130"]);
    message("lent", &["octets most=8"]);
    message("row", &["u8 count=3"]);
    message("maybe", &["u8 optional=true"]);
    message("sensor", &["u8", "i16", "text most=8", "u32 optional=true", "u16 count=2"]);
    for kind in ["u8", "i8", "u16", "i16", "u32", "i32", "u64", "i64", "f32", "f64", "bool"] {
        message(kind, &[kind]);
    }
    Agreement::read(&text).unwrap_or_else(|fault| panic!("{fault:?}\n{text}"))
}

fn named<'a>(agreement: &'a Agreement, name: &str) -> &'a MessageKind {
    agreement.table.messages().iter().find(|message| message.name == name).unwrap()
}

#[test]
fn published_values_are_the_same_octets_in_all_languages() {
    let agreement = agreement();
    let mut rng = seed("published_values_are_the_same_octets_in_all_languages").rng();
    let mut asked = Asked::default();
    for (kind, value, octets) in ONE_FIELD {
        let message = named(&agreement, kind);
        let made = case(message, &mut rng, |_, _| Atom::Number(*value));
        assert_eq!(hex(&made.octets), format!("{:02x}{octets}", message.number), "postcard: {kind} {value}");
        asked.both_ways(&made);
    }
    for (words, octets) in MESSAGES {
        asked.ask(format!("e {words}"), Some((*octets).into()));
        asked.ask(format!("d {octets}"), Some((*octets).into()));
    }
    let refused = asked.wanted.len();
    for (kind, octets) in REFUSED {
        asked.ask(format!("d {:02x}{octets}", named(&agreement, kind).number), None);
    }
    let answers = compare(&agreement, &asked);
    for (answer, (kind, octets)) in answers[refused..].iter().zip(REFUSED) {
        assert!(answer.ends_with(" f0"), "{kind} {octets} is refused with its field's name, not: {answer}");
    }
}
