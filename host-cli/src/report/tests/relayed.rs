//! What travels from leaf to leaf by way of the hub is shown with the message behind it and who is at the far end.

use super::*;
use bellwire::frame::Addresses;

/// The mast asks the porch for light: to the hub, from the hub, and what became of it.
fn light() -> Talk {
    let frame = |kind, (to, from), payload: &[u8]| {
        wire(&Header { addresses: Some(Addresses { to, from }), ..Header::new(kind) }, payload)
    };
    let mut talk = Talk(Vec::new());
    talk.put(Direction::In, frame(Kind::Errand, (0, 3), &[0xFE, 0x7F, 0, 4, 7, 9, 40]))
        .put(Direction::Out, frame(Kind::Errand, (4, 0), &[0xFE, 0x7F, 0, 3, 7, 9, 40]))
        .put(Direction::Out, frame(Kind::Report, (3, 0), &[0xFE, 0x7F, 1, 4, 7]));
    talk
}

fn shown(format: Format) -> String {
    let table = Arc::new(observatory::table());
    let render = renderer(format, Look::default(), table, Names::default(), Arc::default());
    let mut out = Vec::new();
    records(&light()).0.iter().for_each(|record| render.record(record, &mut out));
    String::from_utf8(out).unwrap()
}

#[test]
fn as_lines() {
    let words: Vec<_> = shown(Format::Text).split_whitespace().map(str::to_owned).collect();
    let text = words.join(" ");
    for wanted in [
        "0 lamp level=40 %, mast to desk; relayed for porch as 7",
        "0 lamp level=40 %, desk to porch; relayed from mast as 7",
        "0, desk to mast; relayed to porch as 7: delivered",
    ] {
        assert!(text.contains(wanted), "{wanted}\n{text}");
    }
}

#[test]
fn as_json() {
    let frames: Vec<serde_json::Value> = shown(Format::Json)
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .filter(|record: &serde_json::Value| record["record"] == "frame")
        .collect();
    let [there, on, back] = &frames[..] else { panic!("{frames:?}") };
    for (frame, other) in [(there, 4), (on, 3)] {
        assert_eq!(frame["relayed"], serde_json::json!({"other": other, "name": 7}));
        assert_eq!(
            (&frame["message"], &frame["name"], &frame["values"]["level"]),
            (&9.into(), &"lamp".into(), &40.into())
        );
    }
    assert_eq!(back["relayed"], serde_json::json!({"other": 4, "name": 7, "outcome": "delivered"}));
    assert_eq!(back["message"], 16_382);
}
