//! A test of the tests: each reject, each event, each outcome and each exit code is named by a vector or a test that produces it.

use bellwire::frame::Reject;
use bellwire_tests::{
    session::Script,
    tool::root,
    vector::{self, Rejected},
};
use serde_json::Value;
use std::{collections::BTreeSet, path::Path};

/// Every event that the scripts and conversations tell, with what the event says of itself.
fn told() -> BTreeSet<String> {
    let scripts = vector::read::<Script>("sessions")
        .into_iter()
        .flat_map(|script| script.steps)
        .flat_map(|step| step.tells);
    let conversations: Vec<Value> = vector::read("conversations");
    let steps = conversations
        .iter()
        .flat_map(|conversation| conversation["steps"].as_array().cloned().unwrap_or_default());
    let mut told = BTreeSet::new();
    for event in scripts.chain(steps) {
        for field in ["event", "outcome", "reason", "reject"] {
            if let Some(text) = event[field].as_str() {
                told.insert(format!("{field} {text}"));
            }
        }
    }
    told
}

#[test]
fn each_reject_is_produced() {
    let told = told();
    let rejected: BTreeSet<String> =
        vector::read::<Rejected>("rejects").into_iter().map(|vector| vector.reject).collect();
    // What no vector can show: the receiver's queue is never full in a script that drains it.
    let elsewhere = [(Reject::NoRoom, "core", "Reject::NoRoom")];
    for reject in Reject::ALL {
        let shown = rejected.contains(reject.name()) || told.contains(&format!("reject {}", reject.name()));
        let tested = elsewhere.iter().any(|(other, folder, word)| *other == reject && in_tests(folder, word));
        assert!(shown || tested, "{reject:?}: produced by no vector and no test");
    }
}

#[test]
fn each_event_and_outcome_is_produced() {
    let told = told();
    for event in
        ["opened", "quiet", "resumed", "ended", "mismatch", "message", "outcome", "resent", "text", "refused"]
    {
        assert!(told.contains(&format!("event {event}")), "{event}");
    }
    for outcome in ["delivered", "not sent", "unknown"] {
        assert!(told.contains(&format!("outcome {outcome}")), "{outcome}");
    }
    for reason in ["peer restarted", "silence", "mismatch"] {
        assert!(told.contains(&format!("reason {reason}")), "{reason}");
    }
    // Asked for by a program, not by the wire.
    for (word, folder) in [("ProbeAnswer", "core"), ("PeerStatistics", "core"), ("EndReason::Closed", "core")]
    {
        assert!(in_tests(folder, word), "{word}");
    }
}

#[test]
fn each_exit_code_is_produced() {
    for code in ["0", "1", "2", "65", "69", "74", "76", "77"] {
        assert!(exit_codes().contains(code), "no test ends a process with {code}");
    }
}

/// Codes that the process tests of the tool compare with, and those of the scripts in Python.
fn exit_codes() -> BTreeSet<String> {
    let mut codes = BTreeSet::new();
    let mut files = Vec::new();
    collect(&root().join("host-cli/tests"), &mut files);
    collect(&root().join("tests/oracles"), &mut files);
    for text in files {
        for line in text
            .lines()
            .filter(|line| line.contains("code") || line.contains("Exit::") || line.contains("exit"))
        {
            codes.extend(
                line.split(|c: char| !c.is_ascii_digit())
                    .filter(|digits| !digits.is_empty())
                    .map(str::to_owned),
            );
        }
    }
    codes
}

/// Whether a test below this folder names the word.
fn in_tests(folder: &str, word: &str) -> bool {
    let mut files = Vec::new();
    collect(&root().join(folder), &mut files);
    files.iter().any(|text| text.contains("#[test]") && text.contains(word))
}

fn collect(folder: &Path, files: &mut Vec<String>) {
    for entry in std::fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            collect(&path, files);
        } else if path.extension().is_some_and(|ending| ending == "rs" || ending == "py") {
            files.push(std::fs::read_to_string(&path).expect("readable"));
        }
    }
}
