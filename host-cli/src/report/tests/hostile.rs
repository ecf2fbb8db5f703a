//! Text from strangers.

use super::*;

/// Notes and reasons may come from a capture of somebody else's.
#[test]
fn no_record_sends_control_characters_to_a_terminal() {
    let evil = || "rain\x1b]0;mine\x07\u{9b}2J\u{202e}, \"=1\"\n°".to_string();
    let stamp = Stamp { at: Some(START), port: 0, direction: Direction::In, place: 0 };
    let text = std::borrow::Cow::Owned(evil().into_bytes());
    let gap = |to| Record::Gap(crate::endpoint::Gap { port: 0, from: START, to, why: evil() });
    let all = [
        Record::Note(Note { at: Some(START), port: None, text: evil() }),
        gap(None),
        gap(Some(START + 1)),
        Record::Text(Text { stamp, octets: text, hint: None }),
    ];
    for format in [Format::Text, Format::Json, Format::Csv] {
        let table = Arc::new(observatory::table());
        let render = renderer(format, Look::default(), table, Names::default(), Arc::new(Start::default()));
        for record in &all {
            let mut out = Vec::new();
            render.record(record, &mut out);
            let shown = String::from_utf8(out).unwrap();
            let bad = shown.trim_end_matches('\n').chars().filter(|c| c.is_control() && *c != '\n');
            assert_eq!(bad.count(), 0, "{shown:?}");
            assert!(shown.contains("rain") && shown.contains('°'), "{shown:?}");
            if format == Format::Json {
                assert!(shown.contains("\\u009b2J") && shown.ends_with("\"}\n"), "{shown:?}");
            }
            if format == Format::Csv {
                assert_eq!(shown.matches('\n').count(), 1, "one row: {shown:?}");
            }
        }
    }
}
