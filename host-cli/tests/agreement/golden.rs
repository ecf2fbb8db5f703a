//! The observatory's agreement: its fingerprint, its octets, and the lines of AGREEMENT.md.

use bellwire_cli::{agreement::Agreement, observatory};

const MANUAL: &str = include_str!("../../AGREEMENT.md");

/// The CRC of the `crc` crate, not ours.
fn crc32(text: &str) -> u32 {
    crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC).checksum(text.as_bytes())
}

#[test]
fn the_fingerprint_is_the_crc_of_the_outline_and_stands_in_the_manual() {
    let table = observatory::table();
    assert_eq!(table.fingerprint(), crc32(&table.outline()));
    assert_eq!(table.fingerprint(), observatory::FINGERPRINT);
    assert!(MANUAL.contains(&format!("`{:08x}`", table.fingerprint())), "{:08x}", table.fingerprint());
    let two = "message 0 dome-rate set-point hub-to-leaf 500 brake 0000 moves\nfield rate i16 deg/s 1 0 2 -2000 2000\n";
    assert!(MANUAL.contains(two) && table.outline().starts_with(two));
    assert!(MANUAL.contains(&format!("`{:08x}`", crc32(two))), "{:08x}", crc32(two));
}

#[test]
fn the_example_of_the_manual_is_an_agreement() {
    let example =
        MANUAL.split("```toml\n").nth(1).and_then(|rest| rest.split("```").next()).expect("an example");
    let agreement = Agreement::read(example).expect("no fault");
    assert_eq!((agreement.table.name(), agreement.table.messages().len()), ("small-observatory", 1));
    assert_eq!(agreement.link_of("dome").expect("a link").payload, 48);
}

#[test]
fn what_is_only_for_people_does_not_change_the_fingerprint_and_all_else_does() {
    let text = observatory::AGREEMENT;
    let of = |text: &str| Agreement::read(text).expect("no fault").table.fingerprint();
    let changed = |from: &str, to: &str| {
        assert!(text.contains(from), "{from}");
        of(&text.replacen(from, to, 1))
    };
    for (from, to) in [
        ("version = 2", "version = 9"),
        ("agreement = \"observatory\"", "agreement = \"hut\""),
        ("Turn at this rate.", "Turn."),
        ("payload = 247", "payload = 1024"),
        ("scale = 0.01", "scale = 0.010"),
        ("name = \"radio\"\npayload = 32", "name = \"radio\"\npayload = 64"),
    ] {
        assert_eq!(changed(from, to), observatory::FINGERPRINT, "{to}");
    }
    let mut seen = vec![observatory::FINGERPRINT];
    for (from, to) in [
        ("fresh = \"500ms\"", "fresh = \"501ms\""),
        ("stop = \"brake\"", "stop = \"coast\""),
        ("range = [-20, 20]", "range = [-20, 21]"),
        ("scale = 0.01", "scale = 0.1"),
        ("offset = 2\nrange = [2, 7]", "offset = 1\nrange = [1, 6]"),
        ("unit = \"deg/s\"", "unit = \"rad/s\""),
        ("type = \"u32\"", "type = \"u64\""),
        ("name = \"wind\"", "name = \"gust\""),
        ("\"open\", \"close\"", "\"close\", \"open\""),
        ("most = 200", "most = 100"),
        ("count = 4", "count = 3"),
        ("optional = true", "optional = false"),
        ("number = 16", "number = 17"),
        ("moves = false", "moves = true"),
        ("class = \"report\"", "class = \"notice\""),
        ("way = \"either\"", "way = \"leaf-to-hub\""),
    ] {
        let new = changed(from, to);
        assert!(!seen.contains(&new), "{to}");
        seen.push(new);
    }
}
