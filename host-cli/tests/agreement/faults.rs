//! Faults of a file: each is told at its line and column, with what to write instead.

use bellwire_cli::{agreement::Agreement, observatory};

const HEAD: &str = "agreement = \"hut\"\nversion = 1\nhub = \"desk\"\n[[board]]\nname = \"dome\"\n";
const ERRAND: &str =
    "[[message]]\nname = \"lamp\"\nnumber = 9\nclass = \"errand\"\nway = \"hub-to-leaf\"\nmoves = false\n";
const RATE: &str = "[[message]]\nname = \"rate\"\nnumber = 1\nclass = \"set-point\"\nway = \"hub-to-leaf\"\n\
fresh = \"500ms\"\nstop = \"brake\"\n";

fn faults(text: &str) -> Vec<String> {
    match Agreement::read(text) {
        Ok(_) => Vec::new(),
        Err(faults) => faults.iter().map(ToString::to_string).collect(),
    }
}

/// The one fault of a file that ends with `text` after a good head.
#[track_caller]
fn fault(parts: &[&str]) -> String {
    let text = parts.concat();
    let found = faults(&text);
    assert_eq!(found.len(), 1, "{found:#?}\n{text}");
    let place: Vec<usize> =
        found[0].split(": ").next().unwrap().split(':').map(|n| n.parse().unwrap()).collect();
    let line = text.lines().nth(place[0] - 1).unwrap_or("");
    assert!(place[1] <= line.chars().count() + 1, "{found:?}");
    found[0].split_once(": ").unwrap().1.to_owned()
}

#[test]
fn a_good_file_has_none() {
    assert_eq!(faults(&[HEAD, ERRAND, RATE].concat()), [""; 0]);
}

#[test]
fn a_field_that_is_wrong_says_what_to_write() {
    for (field, wanted) in [
        ("name = \"level\"\ntype = \"uint8\"", "there is no type 'uint8'; write \"u8\""),
        ("name = \"level\"\ntype = \"u9\"", "there is no type 'u9'; write \"u8\""),
        ("name = \"level\"", "field 'level' of message 'lamp' has no type; write type = one of bool"),
        ("name = \"Level\"\ntype = \"u8\"", "'Level' is no name of a field; write \"level\""),
        ("name = \"level\"\ntype = \"u8\"\nrange = [0, 300]", "300 is outside of u8; it holds 0 to 255"),
        ("name = \"level\"\ntype = \"u8\"\nrange = [5, 1]", "the range is empty; the lower end goes first"),
        (
            "name = \"level\"\ntype = \"u8\"\nrange = [5]",
            "range cannot be this list; write range = [lowest, highest]",
        ),
        (
            "name = \"level\"\ntype = \"u8\"\nscale = 0.5\nrange = [0, 0.7]",
            "0.7 lies between two values; the field goes in steps of 0.5",
        ),
        ("name = \"level\"\ntype = \"u8\"\nscale = -1", "scale must be above zero"),
        (
            "name = \"level\"\ntype = \"u8\"\nscale = 1e-2",
            "scale cannot be 1e-2; write scale as a decimal number",
        ),
        (
            "name = \"level\"\ntype = \"u8\"\nunit = \"percent\"",
            "there is no unit 'percent'; write unit = \"%\"",
        ),
        ("name = \"level\"\ntype = \"bool\"\nunit = \"%\"", "bool has no unit; leave it out"),
        ("name = \"level\"\ntype = \"f32\"\nscale = 0.1", "f32 has no scale; leave it out"),
        ("name = \"level\"\ntype = \"f32\"\nrange = [0, inf]", "a range cannot end at inf"),
        ("name = \"level\"\ntype = \"f32\"\nrange = [0, 1e39]", "is outside of f32; write f64"),
        ("name = \"level\"\ntype = \"text\"", "has no most; write most = 40"),
        (
            "name = \"level\"\ntype = \"text\"\nmost = 1001",
            "most cannot be 1001; write a whole number from 1 to 1000",
        ),
        (
            "name = \"level\"\ntype = \"text\"\nmost = 4\ncount = 2",
            "a list of texts or octets has no fixed length",
        ),
        ("name = \"level\"\ntype = \"choice\"", "has no words; write words ="),
        ("name = \"level\"\ntype = \"choice\"\nwords = []", "0 words are no choice"),
        ("name = \"level\"\ntype = \"choice\"\nwords = [\"a\", \"a\"]", "the word a is used twice; line"),
        ("name = \"level\"\ntype = \"choice\"\nwords = [\"none\"]", "'none' cannot be a word"),
        (
            "name = \"level\"\ntype = \"flags\"\nnames = [\"a\"]\nbits = 12",
            "flags cannot have 12 bits; write bits = 8 or more",
        ),
        (
            "name = \"level\"\ntype = \"u8\"\ncount = 33",
            "count cannot be 33; write a whole number from 1 to 32",
        ),
        ("name = \"level\"\ntype = \"u8\"\noptional = 1", "optional cannot be 1; write optional = true"),
        ("name = \"level\"\ntype = \"u8\"\nat-stop = 0", "only a field of a set-point has at-stop"),
        ("name = \"level\"\ntype = \"u8\"\nrnge = [0, 1]", "has no key 'rnge'; write range"),
    ] {
        let told = fault(&[HEAD, ERRAND, "[[message.field]]\n", field, "\n"]);
        assert!(told.contains(wanted), "{field}\n{told}");
    }
}

#[test]
fn a_message_that_is_wrong_says_what_to_write() {
    for (from, to, wanted) in [
        ("\"lamp\"", "\"report\"", "'report' is a class and cannot be a name"),
        (
            "number = 9",
            "number = 16382",
            "number 16382 is reserved for what travels from leaf to leaf by way of the hub (W-68); take one from 0 to 16381",
        ),
        (
            "number = 9",
            "number = 16383",
            "number 16383 is reserved for what a board tells of what it hears (W-66); take one from 0 to 16381",
        ),
        ("number = 9", "number = 16384", "number cannot be 16384; write a whole number from 0 to 16383"),
        ("number = 9\n", "", "message 'lamp' has no number"),
        ("\"errand\"", "\"erand\"", "'erand' is no class; write \"errand\""),
        ("\"hub-to-leaf\"", "\"hub-to-leav\"", "'hub-to-leav' is no way; write \"hub-to-leaf\""),
        ("moves = false\n", "", "has no moves; write moves = true if it may move something"),
        ("moves = false", "moves = false\nfresh = \"1s\"", "is a errand and has no fresh"),
        ("moves = false", "moves = false\nboard = \"dom\"", "there is no board 'dom'; write \"dome\""),
        ("moves = false", "moves = false\nboard = \"desk\"", "'desk' is the hub"),
        ("moves = false", "moves = false\nboard = [\"dome\", \"dome\"]", "the board 'dome' is named twice"),
        (
            "moves = false",
            "moves = false\nfield = \"level\"",
            "field cannot be 'level'; write [[message.field]]",
        ),
    ] {
        assert!(ERRAND.contains(from));
        let told = fault(&[HEAD, &ERRAND.replace(from, to)]);
        let wanted = wanted.replace("is a errand", "is an errand");
        assert!(told.contains(&wanted), "{to}\n{told}");
    }
    for (from, to, wanted) in [
        ("fresh = \"500ms\"\n", "", "has no fresh; write how long a value holds"),
        ("\"500ms\"", "\"500\"", "fresh cannot be '500'; say the unit: 500s or 500ms"),
        ("\"500ms\"", "500", "fresh cannot be 500; write a time with its unit"),
        ("\"500ms\"", "\"11min\"", "write whole milliseconds, 1ms to 10min"),
        ("\"brake\"", "\"brak\"", "'brak' is no stop; write \"brake\""),
        ("stop = \"brake\"", "stop = \"brake\"\nmoves = false", "a set-point moves something"),
    ] {
        assert!(RATE.contains(from));
        let told = fault(&[HEAD, &RATE.replace(from, to)]);
        assert!(told.contains(wanted), "{to}\n{told}");
    }
}

#[test]
fn what_stops_must_be_a_value_of_the_fields() {
    let field = |more: &str| {
        format!("[[message.field]]\nname = \"power\"\ntype = \"u8\"\nrange = [10, 80]\n{more}\n")
    };
    let told = fault(&[HEAD, RATE, &field("")]);
    assert!(
        told.contains("has no value that stops") && told.ends_with("say it with at-stop in that field"),
        "{told}"
    );
    let told = fault(&[HEAD, RATE, &field("at-stop = 5")]);
    assert!(told.contains("at-stop cannot be 5; the field takes 10 to 80"), "{told}");
    assert_eq!(faults(&[HEAD, RATE, &field("at-stop = 10")].concat()), [""; 0]);
}

#[test]
fn numbers_and_names_are_used_once_and_the_first_place_is_named() {
    let twice = [HEAD, ERRAND, ERRAND].concat();
    assert_eq!(
        faults(&twice),
        [
            "13:8: the name lamp is used twice; line 7 has it already; take another",
            "14:10: the message number 9 is used twice; line 8 has it already; take another"
        ]
    );
    let field = "[[message.field]]\nname = \"level\"\ntype = \"u8\"\n";
    assert!(fault(&[HEAD, ERRAND, field, field]).starts_with("the field name level is used twice; line 13"));
    assert!(
        fault(&[HEAD, "[[board]]\nname = \"dome\"\n", ERRAND]).starts_with("the board dome is used twice")
    );
    assert!(
        fault(&[HEAD, "[[board]]\nname = \"desk\"\n", ERRAND]).starts_with("the board desk is used twice")
    );
}

#[test]
fn a_message_too_large_for_its_link_is_refused_with_both_sizes() {
    let text = observatory::AGREEMENT.replacen("most = 10", "most = 20", 1);
    let told = fault(&[&text]);
    assert!(
        told.starts_with("message 'door' takes up to 33 octets, and the link 'radio' carries 32"),
        "{told}"
    );
    let big = "[[message.field]]\nname = \"a\"\ntype = \"octets\"\nmost = 1000\n[[message.field]]\nname = \"b\"\ntype = \"octets\"\nmost = 100\n";
    assert!(
        fault(&[HEAD, ERRAND, big]).contains("takes up to 1104 octets, and no frame carries more than 1024")
    );
}

#[test]
fn what_is_no_toml_is_told_where() {
    let told = faults("agreement = \n");
    assert!(told[0].starts_with("1:"), "{told:?}");
    let told = faults("a = 1\na = 2\n");
    assert!(told[0].starts_with("2:1: this is no TOML"), "{told:?}");
    assert_eq!(faults("").len(), 4);
    assert_eq!(
        faults(&" ".repeat((1 << 20) + 1)),
        ["1:1: the file is larger than 1 MiB; split the machine into several agreements"]
    );
}
