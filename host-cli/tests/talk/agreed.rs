//! Agreements at run time: typed sending and showing, and two sides that hold different ones.

use crate::tool::{Tool, folder, run, twin_is_there};
use bellwire_cli::observatory;

const OBSERVATORY: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../examples/observatory/agreement.toml");

/// A folder with an older version of the agreement, in which the lamp has other steps.
fn older() -> (tempfile::TempDir, String, String) {
    let (folder, twin) = folder();
    let text = observatory::AGREEMENT.replacen("version = 2", "version = 1", 1).replacen(
        "range = [0, 100]\n\n[[message]]\nname = \"log-line\"",
        "range = [0, 50]\n\n[[message]]\nname = \"log-line\"",
        1,
    );
    assert_ne!(text, observatory::AGREEMENT);
    let path = folder.path().join("older.toml");
    std::fs::write(&path, text).expect("a file");
    let path = path.to_str().expect("UTF-8").to_owned();
    (folder, twin, path)
}

#[test]
fn named_values_arrive_typed() {
    let (_folder, twin) = folder();
    let mut peer = Tool::start(&["peer", &format!("twin:{twin}"), "--json", "--agreement", OBSERVATORY]);
    twin_is_there(&twin);
    let words = ["inject", &twin, "dew-heater", "power=40", "--arm", "--agreement", OBSERVATORY];
    assert_eq!(run(&words).code, Some(0));
    let line = peer.line(|line| line.contains("\"name\":\"dew-heater\""));
    assert!(line.contains("\"values\":{\"power\":40},\"units\":{\"power\":\"%\"}"), "{line}");
    let words =
        ["inject", &twin, "site", "latitude=51.5", "longitude=-0.1", "time=0", "--agreement", OBSERVATORY];
    assert_eq!(run(&words).code, Some(0));
    let line = peer.line(|line| line.contains("\"name\":\"site\""));
    assert!(line.contains("\"values\":{\"latitude\":51.5,\"longitude\":-0.1,\"time\":0}"), "{line}");
}

#[test]
fn wrong_names_values_and_ranges_are_refused_before_anything_is_sent() {
    for (words, wanted) in [
        (vec!["dome-rat", "rate=12.5"], "did you mean 'dome-rate'?"),
        (vec!["dome-rate", "rat=12.5"], "no field 'rat', did you mean 'rate'?"),
        (vec!["dome-rate", "rate=22.5"], "it takes -20.00 to 20.00 °/s"),
        (vec!["dome-rate", "rate=0.005"], "it takes -20.00 to 20.00 °/s"),
        (vec!["dome-rate", "rate=1,5"], "it takes -20.00 to 20.00 °/s"),
        (vec!["dome-rate", "rate=1", "rate=2"], "field 'rate' is given twice"),
        (vec!["dome-rate"], "field 'rate' is missing"),
        (vec!["shutter", "move=shut"], "it takes open, close, stop"),
    ] {
        let words =
            [&["inject", "/nowhere"], words.as_slice(), &["--arm", "--agreement", OBSERVATORY]].concat();
        let ended = run(&words);
        assert_eq!(ended.code, Some(2), "{words:?}: {ended:?}");
        let err = ended.err.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(err.contains(wanted), "{words:?}: {err}");
    }
}

#[test]
fn a_mismatch_names_both_sides_and_the_older_one_and_sends_nothing() {
    let (_folder, twin, older) = older();
    let words = ["peer", &format!("twin:{twin}"), "--agreement", &older, "--agreement", OBSERVATORY];
    let mut peer = Tool::start(&words);
    twin_is_there(&twin);
    let words = ["inject", &twin, "lamp", "level=40", "--agreement", OBSERVATORY, "--agreement", &older];
    let ended = run(&words);
    assert_eq!(ended.code, Some(76), "{ended:?}");
    let err = ended.err.split_whitespace().collect::<Vec<_>>().join(" ");
    let ours = format!("ours {:08x} (observatory 2)", observatory::FINGERPRINT);
    assert!(
        err.contains(&ours) && err.contains("(observatory 1)") && err.contains("nothing was sent"),
        "{err}"
    );
    let line = peer.line(|line| line.contains("DIFFERS"));
    assert!(line.contains("the agreements differ"), "{line}");
    peer.line(|line| line.contains("OLDER"));
}

#[test]
fn a_board_with_another_agreement_is_shown_raw_and_one_that_is_known_by_its_own() {
    let (folder, _, older) = older();
    let capture = folder.path().join("demo.pcapng");
    let capture = capture.to_str().expect("UTF-8");
    assert_eq!(run(&["log", "demo:fast", "-o", capture]).code, Some(0));
    let decode = |more: &[&str]| run(&[&["decode", capture, "--message", "dome-state"], more].concat());
    assert!(decode(&[]).out.contains("dome-state azimuth=180.00 °"));
    let strange = decode(&["--agreement", &older]);
    let out = strange.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(out.contains("message 3, not of our agreement, raw: 03d08c01000000"), "{out}");
    assert!(!strange.out.contains("azimuth="));
    let both = decode(&["--agreement", &older, "--agreement", OBSERVATORY]);
    assert!(both.out.contains("dome-state azimuth=180.00 °"));
    let json = decode(&["--agreement", &older, "--json"]).out;
    assert!(json.contains("\"message\":3,\"payload\"") && !json.contains("\"name\":\"dome-state\""));
    let opens = run(&["decode", capture, "--kind", "open", "--agreement", &older]).out;
    let opens = opens.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        opens.contains(&format!("agreement {:08x} (not known here)", observatory::FINGERPRINT)),
        "{opens}"
    );
}

#[test]
fn a_sheet_has_a_column_for_each_field() {
    let folder = tempfile::tempdir().expect("a folder");
    let capture = folder.path().join("demo.pcapng");
    let capture = capture.to_str().expect("UTF-8");
    assert_eq!(run(&["log", "demo:fast", "-o", capture]).code, Some(0));
    let sheet = run(&["decode", capture, "--sheet", "dome-state"]);
    assert_eq!(sheet.code, Some(0), "{}", sheet.err);
    let mut rows = csv::Reader::from_reader(sheet.out.as_bytes());
    let wanted = [
        "time",
        "seconds [s]",
        "port",
        "direction",
        "number",
        "azimuth [°]",
        "rate [°/s]",
        "shutter [%]",
        "motion",
    ];
    assert_eq!(rows.headers().expect("a head"), wanted.as_slice());
    let rows: Vec<_> = rows.records().collect::<Result<_, _>>().expect("RFC 4180");
    let json = run(&["decode", capture, "--json", "--message", "dome-state"]).out;
    let wanted: Vec<serde_json::Value> = json
        .lines()
        .map(|line| serde_json::from_str(line).expect("JSON"))
        .filter(|record: &serde_json::Value| record["record"] == "frame" && record.get("sending").is_none())
        .collect();
    assert_eq!(rows.len(), wanted.len());
    assert!(rows.len() > 20);
    for (row, record) in rows.iter().zip(wanted) {
        assert_eq!(row[0], *record["at"].as_str().expect("a time"));
        assert_eq!(
            row[5].parse::<f64>().expect("a number"),
            record["values"]["azimuth"].as_f64().expect("a number")
        );
        assert_eq!(row[8], *record["values"]["motion"].as_str().expect("a word"));
    }
    let wrong = run(&["decode", capture, "--sheet", "dome-stat"]);
    assert_eq!(wrong.code, Some(2));
    assert!(wrong.err.contains("did you mean 'dome-state'?"), "{}", wrong.err);
}
