//! The tool listens at a board's wire: `log`, and `tap` with a program of one's own behind it.

use serde_json::Value;

use super::{AGREEMENT, Bed, Bench, OPEN, said};
use crate::emulated::{board::Clock, wire::Side};

/// What of a record must be the same when its recording is decoded.
fn frames(records: &[Value]) -> Vec<[Value; 4]> {
    let frames = records.iter().filter(|it| it["record"] == "frame");
    frames.map(|it| ["direction", "kind", "number", "payload"].map(|key| it[key].clone())).collect()
}

pub(super) fn log(bench: &Bench) -> String {
    let bed = bench.dome(Clock::Wall, &[]);
    // Listening only: the board asks, and nobody answers.
    let mut log = bed.tool(bench, &["log", Bed::DEVICE, "--json"]);
    log.shows("\"identity\":\"0b5e00000000d03e\"");
    let alone = log.stop().with_code(0).records();
    assert!(frames(&alone).iter().all(|[way, kind, ..]| way == "in" && kind == "open"), "{alone:#?}");
    assert_eq!(bed.wire.counted(Side::Two).octets, 0, "a listener sends nothing");
    // As a peer, and recorded.
    let capture = bench.folder.join("night.pcapng").display().to_string();
    let mut log = bed.tool(bench, &["log", Bed::DEVICE, "--peer", "--json", "-o", &capture]);
    for part in ["\"event\":\"opened\"", "\"name\":\"dome-state\"", "\"motion\":\"held\""] {
        log.shows(part);
    }
    let logged = log.stop().with_code(0).records();
    // Who joins late may meet the rest of a frame, and nothing else that is refused.
    assert!(logged.iter().filter(|it| it["record"] == "reject").all(|it| it["place"] == 0), "{logged:#?}");
    let decoded = bed.tool(bench, &["decode", &capture, "--json"]).ends().with_code(0).records();
    assert_eq!(frames(&logged), frames(&decoded), "the recording holds what was logged");
    assert!(bed.drives().iter().all(|drive| drive.outputs == 0), "a listener moves something");
    format!(
        "alone {} openings heard and nothing sent; as a peer {} frames, the same in the recording",
        frames(&alone).len(),
        frames(&logged).len()
    )
}

pub(super) fn tap(bench: &Bench) -> String {
    let bed = bench.dome(Clock::Wall, &[]);
    let between = bench.folder.join("between").display().to_string();
    let mut tap = bed.tool(bench, &["tap", Bed::DEVICE, &format!("twin:{between}"), "--json"]);
    tap.shows("\"kind\":\"open\"");
    let words = ["inject", &between, "shutter", "move=open", "--agreement", AGREEMENT];
    let refused = bed.tool(bench, &words).ends().with_code(2);
    assert!(refused.err.contains("shutter moves something"), "{}", refused.err);
    assert_eq!(bed.wire.counted(Side::Two).octets, 0, "refused, and yet something was sent");
    let sent = bed.tool(bench, &[&words[..], &["--arm"]].concat()).ends().with_code(0);
    assert!(sent.out.contains("delivered") && sent.err.contains("emergency stop"), "{sent:?}");
    let _ = bed.board.says(&format!("outputs={OPEN} "));
    tap.shows("\"event\":\"ended\"");
    let heard = tap.stop().with_code(0).records();
    // Sent again or not: that depends on how busy this computer is.
    let errand = |it: &&Value| it["kind"] == "errand" && it["direction"] == "out" && it["sending"].is_null();
    let errands: Vec<_> = heard.iter().filter(errand).map(|it| &it["values"]["move"]).collect();
    assert_eq!(errands, ["open"], "{heard:#?}");
    let delivered = heard.iter().find(|it| it["event"] == "delivered" && it["name"] == "shutter");
    let refused = heard.iter().filter(|it| it["record"] == "reject").filter(|it| it["place"] != 0);
    assert_eq!((delivered.is_some(), refused.count()), (true, 0), "{heard:#?}");
    let passed: u64 =
        heard.iter().filter(|it| it["direction"] == "out").filter_map(|it| it["wire"].as_u64()).sum();
    bed.until_carried(Side::Two, passed);
    assert!(bed.drives().iter().all(|drive| drive.outputs & said::MOTOR == 0), "the motor turned");
    format!(
        "a program behind it opened the shutter; all {passed} octets toward the board logged, none refused"
    )
}
