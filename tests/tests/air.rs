//! The radio board's layer (W-63) and hearings (W-66) against the golden vectors, which come from Python alone.

use bellwire::{
    fcs::Fcs16,
    frame::Reject,
    framing::{Air, Cobs, Framing, NotAir, NotSent, Step, cobs},
    radio::{Hearing, NotHearing},
};
use bellwire_tests::{tool::root, vector::Octets};
use serde::Deserialize;

#[derive(Debug, Deserialize)]
#[serde(tag = "form", rename_all = "kebab-case")]
enum Form {
    Send {
        datagram: Octets,
    },
    Heard {
        at: u32,
        strength: Option<i16>,
        datagram: Octets,
    },
    Sent {
        at: u32,
        tail: Octets,
    },
    #[serde(rename = "not sent")]
    NotSent {
        reason: String,
        tail: Octets,
    },
}

#[derive(Debug, Deserialize)]
struct Vector {
    name: String,
    air: Option<Form>,
    error: Option<String>,
    hearing: Option<Told>,
    wire: Option<Octets>,
    payload: Option<Octets>,
}

#[derive(Debug, Deserialize)]
struct Told {
    sent: Option<u16>,
    heard: Option<u16>,
    age: Option<u8>,
    strength: Option<i16>,
    message: Option<Octets>,
    error: Option<String>,
}

fn vectors() -> Vec<Vector> {
    let text = std::fs::read_to_string(root().join("tests/vectors/air.json")).expect("the vectors");
    serde_json::from_str(&text).expect("well-formed")
}

fn air_of(form: &Form) -> Air<'_> {
    let two = |octets: &Octets| octets.0.as_slice().try_into().expect("two octets");
    match form {
        Form::Send { datagram } => Air::Send { datagram: &datagram.0 },
        Form::Heard { at, strength, datagram } => {
            Air::Heard { at: *at, strength: *strength, datagram: &datagram.0 }
        }
        Form::Sent { at, tail } => Air::Sent { at: *at, tail: two(tail) },
        Form::NotSent { reason, tail } => {
            let why = match reason.as_str() {
                "other" => NotSent::Other,
                "busy" => NotSent::Busy,
                "airtime" => NotSent::Airtime,
                "too long" => NotSent::TooLong,
                "broken" => NotSent::Broken,
                other => panic!("{other}"),
            };
            Air::NotSent { why, tail: two(tail) }
        }
    }
}

/// The checked frame between the delimiters of one vector, without its FCS.
fn frame(wire: &[u8]) -> Vec<u8> {
    let mut out = vec![0; wire.len()];
    let len = cobs::decode(&wire[1..wire.len() - 1], &mut out).expect("canonical");
    out.truncate(len - 2);
    out
}

#[test]
fn every_good_vector_is_written_and_read_and_every_bad_one_is_refused_by_name() {
    let (mut good, mut bad) = (0, 0);
    for vector in vectors() {
        let Some(wire) = &vector.wire else { continue };
        let plain = frame(&wire.0);
        let mut buffer = [0; 300];
        let step = Cobs.feed::<Fcs16>(&mut cobs::State::default(), &wire.0[1..], &mut buffer).step;
        assert!(matches!(step, Step::Frame { .. }), "{}: the UART's own FCS holds", vector.name);
        if let Some(form) = &vector.air {
            let mut out = [0; 300];
            let len = air_of(form).encode(&mut out).expect("room");
            assert_eq!(out[..len], wire.0, "{}", vector.name);
            assert_eq!(Air::read(&plain), Ok(air_of(form)), "{}", vector.name);
            good += 1;
        } else {
            let wanted = match vector.error.as_deref() {
                Some("bad length") => NotAir::BadLength,
                Some("unknown form") => NotAir::UnknownForm,
                Some("unknown reason") => NotAir::UnknownReason,
                other => panic!("{}: {other:?}", vector.name),
            };
            assert_eq!(Air::read(&plain), Err(wanted), "{}", vector.name);
            bad += 1;
        }
    }
    assert_eq!((good, bad), (28, 14));
}

#[test]
fn every_hearing_is_read_and_written() {
    let mut count = 0;
    for vector in vectors() {
        let (Some(told), Some(payload)) = (&vector.hearing, &vector.payload) else { continue };
        count += 1;
        let split = Hearing::split(&payload.0);
        match (told.error.as_deref(), told.sent) {
            (Some("too short"), _) => assert_eq!(split, Err(NotHearing::TooShort)),
            (Some("strength of nothing"), _) => assert_eq!(split, Err(NotHearing::StrengthOfNothing)),
            (_, None) => assert_eq!(split, Ok((None, &payload.0[..]))),
            (_, Some(sent)) => {
                let heard = told.heard.expect("heard");
                let hearing = Hearing { sent, heard, age: told.age, strength: told.strength };
                let message = &told.message.as_ref().expect("a message").0;
                assert_eq!(split, Ok((Some(hearing), &message[..])), "{}", vector.name);
                let mut out = [0; 40];
                let len = hearing.put_before(message, &mut out).expect("room");
                assert_eq!(out[..len], payload.0);
            }
        }
    }
    assert_eq!(count, 9);
}

/// The error of a whole link is the rule of the frame (section 9).
#[test]
fn a_link_counts_a_wrong_body_under_the_frames_rule() {
    use bellwire::{
        framing::RadioBoard,
        link::{Config, Link, OwnNumber},
        time::{Duration, Instant},
    };
    let now = Instant::from_ticks(0);
    let config = Config::datagram(0, Duration::from_ticks(1_000), OwnNumber::Stored(1));
    let mut link = Link::<RadioBoard, Fcs16, 600, 1, 4>::new(RadioBoard, config, now);
    for vector in vectors().iter().filter(|vector| vector.error.is_some()) {
        let wire = &vector.wire.as_ref().expect("a wire").0;
        while link.poll_event().is_some() {}
        assert_eq!(link.handle_octets(now, wire), wire.len(), "{}", vector.name);
    }
    let count = |reject: Reject| link.statistics().rejects(reject);
    assert_eq!((count(Reject::BadLength), count(Reject::UnknownExtension)), (10, 4));
}
