//! A test of the test: faults planted into what the generators write, and the comparison that must see each of them.

use crate::{program, questions};
use bellwire_cli::agreement::Agreement;
use bellwire_tests::seed::seed;
use std::{
    fs,
    panic::{AssertUnwindSafe, catch_unwind},
    path::Path,
    process::Command,
};

/// Few random values: what is planted shows at the boundaries.
const VALUES: usize = 20;

/// What is planted, the text of the file, and what stands there instead.
type Fault = (&'static str, &'static str, &'static str);

const IN_RUST: &[Fault] = &[
    ("an end of a range left out", "(-2000..=2000)", "(-2000..2000)"),
    ("an octet more of text", "self.text.len() > 200", "self.text.len() > 201"),
    ("another fault for octets that end", "Err((field, Fault::Cut))", "Err((field, Fault::Malformed))"),
];

const IN_C: &[Fault] = &[
    ("the octets turned around", "(uint8_t)(value >> shift)", "(uint8_t)(value >> (bits - 8 - shift))"),
    ("no check of a range", "fail(outcome, PLANTED_OUT_OF_RANGE, \"battery\");", "(void)outcome;"),
    ("signs without their bits", "(number < 0 ? UINT64_MAX : 0)", "0"),
    ("octets left over", "fail(&in.outcome, PLANTED_LEFT_OVER, \"\");", "(void)in;"),
    ("another field's name", "PLANTED_OUT_OF_RANGE, \"battery\"", "PLANTED_OUT_OF_RANGE, \"awake\""),
];

const IN_PYTHON: &[Fault] = &[
    ("the octets turned around", "struct.pack(\"<f\" if", "struct.pack(\">f\" if"),
    ("no check of a range", "return None if low <= value <= high else", "return None if value <= high else"),
    ("six bits an octet", "value & 0x7F | 0x80", "value & 0x3F | 0x80"),
    ("octets left over", "if at != len(octets):", "if at > len(octets):"),
    ("no field's name", "Fault(\"cut\", number, field)", "Fault(\"cut\", number, \"\")"),
];

#[test]
fn planted_faults_are_seen() {
    // A name of its own, so that the program of the other test stays what it is.
    let source = include_str!("../../../examples/observatory/agreement.toml");
    let source = source.replacen("agreement = \"observatory\"", "agreement = \"planted\"", 1);
    let names = ["dome-rate", "dome-state", "log-line", "mast-state", "sky-profile"].map(str::to_owned);
    let agreement = Agreement::read(&source).unwrap().of_messages(&names).unwrap();
    let seed = seed("planted_faults_are_seen");
    let asked = questions(&agreement, &mut seed.rng(), VALUES).lines;
    println!("seed {:#018x}", seed.value());
    let good = answers(&agreement, &asked, program::python, None).expect("the program runs");
    seen("Rust", &agreement, &asked, &good, program::rust, "planted.rs", IN_RUST);
    seen("C", &agreement, &asked, &good, program::c, "planted.c", IN_C);
    seen("Python", &agreement, &asked, &good, program::python, "planted.py", IN_PYTHON);
}

/// A program of the generated files in a folder.
type Build = fn(&Agreement, &Path) -> Command;

/// Without a fault the answers are the good ones; with each they are not.
fn seen(
    language: &str,
    agreement: &Agreement,
    asked: &str,
    good: &[String],
    build: Build,
    file: &str,
    faults: &[Fault],
) {
    assert_eq!(answers(agreement, asked, build, None).as_deref(), Some(good), "{language}");
    for fault in faults {
        let told = answers(agreement, asked, build, Some((file, fault)));
        assert_ne!(told.as_deref(), Some(good), "{language}: {} is not seen", fault.0);
    }
}

/// What the program answers; nothing if it ends before its time. It must compile all the same.
fn answers(
    agreement: &Agreement,
    asked: &str,
    build: Build,
    fault: Option<(&str, &Fault)>,
) -> Option<Vec<String>> {
    let folder = tempfile::tempdir().unwrap();
    program::generate(agreement, folder.path());
    if let Some((file, (what, good, bad))) = fault {
        let path = folder.path().join(file);
        let text = fs::read_to_string(&path).unwrap();
        assert!(text.contains(good), "{file} has no place for this: {what}");
        fs::write(&path, text.replacen(good, bad, 1)).unwrap();
    }
    let mut program = build(agreement, folder.path());
    catch_unwind(AssertUnwindSafe(|| program::run(&mut program, asked))).ok()
}
