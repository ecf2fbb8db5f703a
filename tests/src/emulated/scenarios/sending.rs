//! The tool sends to a board: `inject` and `replay`.

use serde_json::Value;

use super::{AGREEMENT, Bed, Bench, motion::COUNTED};
use crate::{
    emulated::{board::Clock, said, wire, wire::Side},
    tool,
};

pub(super) fn inject(bench: &Bench) -> String {
    let bed = bench.lay("focuser", COUNTED, &[], &wire::uart(super::BAUD));
    let inject = |words: &[&str]| {
        let words =
            [&["inject", Bed::DEVICE, "focuser-goto"][..], words, &["--agreement", AGREEMENT]].concat();
        bed.tool(bench, &words).ends()
    };
    // What moves something needs --arm, and a value must be one; nothing is sent.
    for (words, part) in [(&["position=300"][..], "moves something"), (&["position=-5", "--arm"], "position")]
    {
        let refused = inject(words).with_code(2);
        assert!(refused.err.contains(part), "{}", refused.err);
    }
    assert_eq!(bed.wire.counted(Side::Two).octets, 0, "refused, and yet something was sent");
    let stranger = inject(&["position=300", "--arm", "--fingerprint", "7"]).with_code(76);
    assert!(stranger.err.contains("53502311 (observatory 2)"), "{}", stranger.err);
    // The focuser stops where it is when the session ends: the last errand of ten must find it there.
    let sent = inject(&["position=300", "--arm", "--every", "200ms", "--for", "2s", "--json"]).with_code(0);
    let records = sent.records();
    let sum = records.iter().find(|it| it["event"] == "sum").expect("a sum");
    assert_eq!(sum["text"], "10 times focuser-goto: 10 delivered, 0 unknown, 0 not sent");
    let state = records.iter().rfind(|it| it["name"] == "focuser-state").expect("a report");
    assert_eq!((&state["values"]["position"], &state["units"]["position"]), (&300.into(), &"µm".into()));
    // A false FCS: the board must not go.
    let wrong = inject(&["position=900", "--arm", "--wrong", "fcs"]).with_code(0);
    assert!(wrong.out.contains("no outcome can be told"), "{}", wrong.out);
    let _ = inject(&["position=300", "--arm"]).with_code(0);
    let said = bed.board.says("focuser position=300 target=300");
    assert!(!said.contains("target=900"), "a frame with a false FCS was obeyed:\n{said}");
    let (begins, rest) = said::first(&said, "focuser position=").expect("it set off");
    let steps = 300 - rest.split(' ').next().and_then(|from| from.parse::<u32>().ok()).expect("a position");
    let (arrives, _) = said::first(&said, "focuser position=300 target=300").expect("just seen");
    // 2 ms a step, looked at every tick.
    assert!((arrives - begins).abs_diff(steps * 2000) <= 2000, "{steps} steps in {} µs", arrives - begins);
    format!(
        "10 of 10 errands delivered, {steps} steps in {} µs; unarmed, wrong or with a false FCS nothing moved",
        arrives - begins
    )
}

/// Set-points and errands toward the board in a recording, and all octets that way.
fn recorded(bed: &Bed, bench: &Bench, file: &str) -> [usize; 2] {
    let records = bed.tool(bench, &["decode", file, "--json"]).ends().with_code(0).records();
    let of = |kind: &str| {
        let is = |it: &&Value| it["record"] == "frame" && it["direction"] == "out" && it["kind"] == kind;
        records.iter().filter(is).count()
    };
    [of("set-point"), of("errand")]
}

pub(super) fn replay(bench: &Bench) -> String {
    let bed = bench.dome(Clock::Wall, &[]);
    let file = tool::root().join("examples/captures/cut.pcapng").display().to_string();
    let counted = recorded(&bed, bench, &file);
    let mut sent = Vec::new();
    for (arm, left_out) in [(&[][..], counted), (&["--arm"][..], [0, 0])] {
        let before = bed.wire.counted(Side::Two).octets;
        let words =
            [&["replay", &file, Bed::DEVICE, "--direction", "out", "--speed", "max", "--json"], arm].concat();
        let ended = bed.tool(bench, &words).ends().with_code(0);
        assert_eq!(ended.err.contains("emergency stop"), !arm.is_empty(), "{}", ended.err);
        let [sum] = &ended.records()[..] else { panic!("{}", ended.out) };
        let keys = ["set_points_left_out", "errands_left_out"].map(|key| sum[key].as_u64());
        assert_eq!(keys, left_out.map(|count| Some(count as u64)), "{sum}");
        let octets = sum["octets"].as_u64().expect("a count");
        bed.until_carried(Side::Two, before + octets);
        sent.push(octets);
    }
    // Of another session (W-32), all of it: the board has drawn another number than the one that was recorded.
    assert!(
        bed.drives().iter().all(|drive| drive.outputs == 0),
        "a recording moves the board: {:?}",
        bed.drives()
    );
    format!(
        "{} set-points and {} errands left out, {} octets sent; with --arm {}, and of another session nothing moves",
        counted[0], counted[1], sent[0], sent[1]
    )
}
