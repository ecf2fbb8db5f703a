//! `agreement`, `compare` and `explain` as processes.

use std::process::{Command, Output};

use bellwire_cli::observatory;

const OBSERVATORY: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../examples/observatory/agreement.toml");

fn run(words: &[&str]) -> (Option<i32>, String, String) {
    let Output { status, stdout, stderr } =
        Command::new(env!("CARGO_BIN_EXE_bellwire")).args(words).output().expect("the tool starts");
    let text = |octets| String::from_utf8(octets).expect("UTF-8");
    (status.code(), text(stdout), text(stderr))
}

fn narrow(text: &str) {
    assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
}

#[test]
fn an_agreement_is_shown_and_one_with_faults_is_refused_with_their_places() {
    let (code, out, _) = run(&["agreement", OBSERVATORY]);
    assert_eq!(code, Some(0));
    narrow(&out);
    assert!(out.starts_with(&format!("observatory 2, fingerprint {:08x}\n", observatory::FINGERPRINT)));
    assert!(
        out.contains("     0      3  dome-rate: set-point, desk to dome, fresh for 500 ms, then brake\n")
    );
    let (_, json, _) = run(&["agreement", OBSERVATORY, "--json"]);
    let records: Vec<serde_json::Value> =
        json.lines().map(|line| serde_json::from_str(line).expect("JSON")).collect();
    assert_eq!(
        (records[0]["version"].as_u64(), records.len()),
        (Some(2), 1 + observatory::table().messages().len())
    );
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("bad.toml");
    std::fs::write(&path, observatory::AGREEMENT.replace("\"i16\"", "\"int16\"")).expect("a file");
    let (code, out, err) = run(&["agreement", path.to_str().expect("UTF-8")]);
    assert_eq!((code, out.as_str()), (Some(65), ""));
    let line = observatory::AGREEMENT.lines().position(|line| line == "type = \"i16\"").expect("a line") + 1;
    assert!(err.contains(&format!("bad.toml:{line}:8: there is no type 'int16'; write \"i16\"")), "{err}");
}

#[test]
fn two_versions_are_compared() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("new.toml");
    let new = observatory::AGREEMENT.replacen("\"stop\"]", "\"stop\", \"vent\"]", 1).replacen(
        "version = 2",
        "version = 3",
        1,
    );
    std::fs::write(&path, new).expect("a file");
    let new = path.to_str().expect("UTF-8");
    let (code, out, _) = run(&["compare", OBSERVATORY, new]);
    assert_eq!(code, Some(1));
    narrow(&out);
    assert!(
        out.contains("     2  refused     readable    shutter: move: open, close, stop became open,"),
        "{out}"
    );
    assert!(out.contains("(observatory 3)") && out.contains("16 messages are the same"), "{out}");
    let (code, out, _) = run(&["compare", OBSERVATORY, OBSERVATORY]);
    assert_eq!(code, Some(0));
    assert!(out.contains("The same on the wire"), "{out}");
    let (_, json, _) = run(&["compare", OBSERVATORY, new, "--json"]);
    assert!(json.contains("\"by_new\":\"readable\",\"by_old\":\"refused\""), "{json}");
}

#[test]
fn octets_are_explained_and_the_first_fault_is_named() {
    let (code, out, _) = run(&["explain", "00", "07", "41", "1c", "09", "28", "b6", "ac", "00"]);
    assert_eq!(code, Some(0), "{out}");
    narrow(&out);
    assert!(
        out.contains("    5  28                       level = 40 %\n")
            && out.ends_with("nothing wrong: one frame\n"),
        "{out}"
    );
    let (code, out, _) = run(&["explain", "00 07 41 1c 09 28 ac b6 00", "--agreement", OBSERVATORY]);
    assert_eq!(code, Some(1));
    let told = out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(told.contains("FIRST WRONG octet 6 (W-11): the FCS is AC B6;"), "{out}");
    assert!(told.contains("right as CRC-16/IBM-SDLC, most significant octet first"), "{out}");
    let (code, _, err) = run(&["explain", "0g"]);
    assert_eq!(code, Some(2));
    assert!(err.contains("`g` is no hex digit"), "{err}");
}
