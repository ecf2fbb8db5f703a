//! What travels from leaf to leaf by way of the hub (W-68) against the golden vectors of `star.json`, which come from Python alone.

use bellwire::{
    fcs::Fcs16,
    frame::{Read, Reader},
    framing::Datagram,
    star::{Carried, FarOutcome, Relayed},
};
use bellwire_tests::{
    tool::root,
    vector::{Octets, hex, unhex},
};
use serde::Deserialize;
use serde_json::Value;

#[derive(Debug, Deserialize)]
#[serde(untagged)]
enum Vector {
    Sound(Sound),
    Refused(Refused),
    Elsewhere(Value),
}

#[derive(Debug, Deserialize)]
struct Sound {
    name: String,
    kind: String,
    relayed: Fields,
    payload: Octets,
    wire: Octets,
}

#[derive(Debug, Deserialize)]
struct Fields {
    other: u8,
    name: u8,
    message: Option<String>,
    outcome: Option<String>,
}

#[derive(Debug, Deserialize)]
struct Refused {
    name: String,
    not_relayed: Octets,
}

fn vectors() -> Vec<Vector> {
    let text = std::fs::read_to_string(root().join("tests/vectors/star.json")).expect("the vectors");
    serde_json::from_str(&text).expect("well-formed")
}

#[test]
fn what_is_relayed_is_read_and_written() {
    let (mut sound, mut refused) = (0, 0);
    for vector in vectors() {
        match vector {
            Vector::Sound(vector) => {
                holds(&vector);
                sound += 1;
            }
            Vector::Refused(vector) => {
                assert!(Relayed::parse(&vector.not_relayed.0).is_err(), "{}", vector.name);
                refused += 1;
            }
            Vector::Elsewhere(vector) => assert!(vector.get("name").is_some(), "{vector}"),
        }
    }
    assert_eq!((sound, refused), (15, 8));
}

/// It is read and written as the vector says, and its frame is that of an errand or report.
fn holds(vector: &Sound) {
    let Fields { other, name, message, outcome } = &vector.relayed;
    let message = message.as_ref().map(|text| unhex(text).expect("hex"));
    let carried = match (&message, outcome.as_deref()) {
        (Some(message), None) => Carried::Message(message),
        (None, Some("delivered")) => Carried::Outcome(FarOutcome::Delivered),
        (None, Some("not sent")) => Carried::Outcome(FarOutcome::NotSent),
        (None, Some("unknown")) => Carried::Outcome(FarOutcome::Unknown),
        both => panic!("{}: {both:?}", vector.name),
    };
    let relayed = Relayed { other: *other, name: *name, carried };
    assert_eq!(Relayed::parse(&vector.payload.0), Ok(Some(relayed)), "{}", vector.name);
    let mut out = [0; 64];
    let len = relayed.write(&mut out).expect("room");
    assert_eq!(hex(&out[..len]), hex(&vector.payload.0), "{}", vector.name);
    let mut reader = Reader::<Datagram, Fcs16, 80>::new(Datagram);
    let (_, read) = reader.feed(&vector.wire.0);
    let Some(Read::Frame(view)) = read else { panic!("{}: {read:?}", vector.name) };
    assert_eq!(view.payload, vector.payload.0, "{}", vector.name);
    assert_eq!(view.header.kind.name(), vector.kind, "{}", vector.name);
}
