//! `check` in its five results, against boards that behave accordingly.

use bellwire::frame::{Extension, Header, Kind, Read};
use bellwire_cli::{endpoint::Wiring, talk::codec};

use crate::tool::{Ended, Tool, board, folder, run};

/// Runs `check` for people and for machines, each against a board of its own.
fn checked<A: FnMut(&[u8]) -> Vec<u8> + Send + 'static>(make: impl Fn() -> A) -> (Ended, Ended) {
    let go = |words: &[&str]| {
        let (_folder, path) = folder();
        let twin = format!("twin:{path}");
        let tool = Tool::start(&[&["check", &twin, "--for", "1500ms"], words].concat());
        let board = board(&path, make());
        let ended = tool.end();
        board.join().expect("the board ends");
        ended
    };
    (go(&[]), go(&["--json"]))
}

fn result(ended: &Ended) -> serde_json::Value {
    let value: serde_json::Value = serde_json::from_str(&ended.out).expect("one JSON record");
    assert_eq!(value["record"], "check");
    value
}

#[test]
fn nothing_received() {
    let (text, json) = checked(|| |_: &[u8]| Vec::new());
    assert_eq!((text.code, json.code), (Some(1), Some(1)));
    assert!(text.out.contains("nothing received"), "{}", text.out);
    assert!(text.out.contains("swap the two data wires"));
    assert_eq!(result(&json)["result"], "nothing");
}

#[test]
fn nobody_there_at_all() {
    let (_folder, path) = folder();
    let ended = run(&["check", &format!("twin:{path}"), "--for", "300ms"]);
    assert_eq!(ended.code, Some(1));
    assert!(ended.out.contains("never there"), "{}", ended.out);
}

#[test]
fn own_echo() {
    let (text, json) = checked(|| <[u8]>::to_vec);
    assert_eq!((text.code, json.code), (Some(1), Some(1)));
    assert!(text.out.contains("only our own octets come back"), "{}", text.out);
    let json = result(&json);
    assert_eq!((&json["result"], json["echoes"].as_u64()), (&"own-echo".into(), json["probes"].as_u64()));
}

#[test]
fn octets_but_never_valid() {
    let (text, json) = checked(|| |_: &[u8]| b"dome login: ".to_vec());
    assert_eq!((text.code, json.code), (Some(1), Some(1)));
    assert!(text.out.contains("never a valid frame"), "{}", text.out);
    let (noise, _) = checked(|| |_: &[u8]| vec![0x13, 0x99, 0, 0x02, 0xA7, 0xA8, 0]);
    assert!(noise.out.contains("never a valid frame"), "{}", noise.out);
    assert!(noise.out.contains("W-"), "a rule is named: {}", noise.out);
    assert_eq!(result(&json)["result"], "never-valid");
}

#[test]
fn a_rate_twice_too_high_is_guessed() {
    let (text, _) = checked(|| |_: &[u8]| [0x66, 0xE6, 0x78, 0x80, 0x06, 0xF8, 0x1E].repeat(8));
    assert!(text.out.contains("try --rate 57600"), "{}", text.out);
}

#[test]
fn valid_one_way() {
    let (text, json) = checked(|| {
        let codec = codec(Wiring::default());
        let notice = codec.encode(&codec.frame(&Header::new(Kind::Notice), &[10, 1, b'x']));
        move |_: &[u8]| notice.clone()
    });
    assert_eq!((text.code, json.code), (Some(1), Some(1)));
    assert!(text.out.contains("one way only"), "{}", text.out);
    assert_eq!(result(&json)["result"], "one-way");
}

#[test]
fn valid_both_ways_with_loss_and_round_trip() {
    let (text, json) = checked(|| {
        let (mut codec, mut count) = (codec(Wiring::default()), 0);
        move |octets: &[u8]| {
            let mut out = Vec::new();
            codec.read(octets, &mut |read| match read {
                Read::Frame(view) => out.push(view.payload.to_vec()),
                other => panic!("{other:?}"),
            });
            // Every fourth probe gets no answer.
            out.retain(|_| {
                count += 1;
                count % 4 != 0
            });
            let header = Header { extension: Some(Extension::ProbeAnswer), ..Header::new(Kind::Extended) };
            out.iter().flat_map(|body| codec.encode(&codec.frame(&header, body))).collect()
        }
    });
    assert_eq!((text.code, json.code), (Some(0), Some(0)), "{}", text.err);
    assert!(text.out.contains("valid both ways"), "{}", text.out);
    assert!(text.out.contains("round trip") && text.out.contains("lost"), "{}", text.out);
    let json = result(&json);
    let (probes, answers) = (json["probes"].as_u64().unwrap(), json["answers"].as_u64().unwrap());
    assert_eq!(answers, probes - probes / 4, "{json}");
    assert!(json["round_trip_us"]["least"].as_f64().unwrap() > 0.0);
}
