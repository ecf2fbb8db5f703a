//! Two versions of an agreement: what each side does with the other's messages, held against what the reader of payloads really does.

use bellwire_cli::{
    agreement::{Agreement, Compared, Verdict, compare},
    messages::Table,
    observatory,
};
use bellwire_tests::seed;
use proptest::{collection::vec, prelude::*};

fn changed(from: &str, to: &str) -> Table {
    let text = observatory::AGREEMENT;
    assert!(text.contains(from), "{from}");
    Agreement::read(&text.replacen(from, to, 1)).expect("no fault").table
}

/// Verdicts of the one message that differs: old boards with new messages, and the reverse.
fn verdicts(new: &Table) -> (Option<Verdict>, Option<Verdict>) {
    let old = observatory::table();
    let differs = |message: &&Compared| !message.why.is_empty();
    let compared = compare(&old, new);
    let differing: Vec<_> = compared.iter().filter(differs).collect();
    assert_eq!(differing.len(), 1, "{differing:#?}");
    (differing[0].by_old, differing[0].by_new)
}

#[test]
fn an_agreement_is_the_same_as_itself() {
    let table = observatory::table();
    for message in compare(&table, &table) {
        assert_eq!((message.by_old, message.by_new), (Some(Verdict::Same), Some(Verdict::Same)));
        assert_eq!(message.why, [""; 0]);
    }
}

#[test]
fn every_rule_has_its_verdicts() {
    use Verdict::{Readable as R, Refused as X};
    for (from, to, by_old, by_new) in [
        ("fresh = \"500ms\"", "fresh = \"400ms\"", R, R),
        ("stop = \"brake\"", "stop = \"coast\"", R, R),
        ("moves = false", "moves = true", R, R),
        ("way = \"either\"", "way = \"leaf-to-hub\"", R, R),
        ("class = \"report\"", "class = \"notice\"", X, X),
        ("name = \"lamp\"", "name = \"lantern\"", X, X),
        ("name = \"wind\"", "name = \"gust\"", X, X),
        ("unit = \"lx\"", "unit = \"klx\"", X, X),
        ("scale = 0.1", "scale = 0.2", X, X),
        ("offset = 2\nrange = [2, 7]", "offset = 1\nrange = [1, 6]", X, X),
        ("range = [-20, 20]", "range = [-10, 10]", R, X),
        ("range = [-20, 20]", "range = [-30, 30]", X, R),
        (
            "words = [\"open\", \"close\", \"stop\"]",
            "words = [\"open\", \"close\", \"stop\", \"vent\"]",
            X,
            R,
        ),
        ("words = [\"open\", \"close\", \"stop\"]", "words = [\"close\", \"open\", \"stop\"]", X, X),
        ("\"battery-low\"]", "\"battery-low\", \"cold\"]", R, R),
        ("most = 200", "most = 100", R, X),
        ("count = 4", "count = 3", X, X),
        ("optional = true", "optional = false", X, X),
        ("type = \"u64\"", "type = \"u32\"", R, X),
        ("type = \"u64\"", "type = \"i64\"", X, X),
        ("type = \"f32\"", "type = \"f64\"", X, X),
    ] {
        assert_eq!(verdicts(&changed(from, to)), (Some(by_old), Some(by_new)), "{from} to {to}");
    }
}

#[test]
fn a_message_of_one_side_only_is_refused_by_the_other() {
    let old = observatory::table();
    let cut = observatory::AGREEMENT.split("[[message]]\nname = \"door\"").next().expect("a part");
    let new = Agreement::read(cut).expect("no fault").table;
    let gone = compare(&old, &new).pop().expect("messages");
    assert_eq!((gone.number, gone.by_old, gone.by_new), (16, None, Some(Verdict::Refused)));
    let come = compare(&new, &old).pop().expect("messages");
    assert_eq!((come.number, come.by_old, come.by_new), (16, Some(Verdict::Refused), None));
}

/// Oracle: what is called readable is read, in range, with the same values, whatever is sent.
#[test]
fn what_is_readable_is_read() {
    let seed = seed("what_is_readable_is_read");
    let old = observatory::table();
    for (from, to) in [
        ("range = [-20, 20]", "range = [-10, 10]"),
        ("type = \"u64\"", "type = \"u32\""),
        ("most = 200", "most = 100"),
        ("\"battery-low\"]", "\"battery-low\", \"cold\"]"),
    ] {
        let new = changed(from, to);
        let read = std::cell::Cell::new(0);
        // Small octets make numbers that are in range more often.
        let octet = prop_oneof![3 => 0..8_u8, 1 => any::<u8>()];
        let sent = (0..17_u8, vec(octet, 0..10)).prop_map(|(number, body)| [&[number], &body[..]].concat());
        let result = seed.runner(20_000).run(&sent, |payload| {
            let Some(message) = new.get(payload[0].into()) else { return Ok(()) };
            let Some((_, ours)) = new.read(message.class, &payload) else { return Ok(()) };
            if !ours.clone().all(|(field, value)| field.allows(&value)) {
                return Ok(());
            }
            let (_, theirs) = old.read(message.class, &payload).expect("an old board reads it");
            for ((_, ours), (field, theirs)) in ours.zip(theirs) {
                prop_assert!(field.allows(&theirs), "{}", field.name);
                prop_assert!(ours.plain() == theirs.plain() || field.name == "troubles", "{}", field.name);
            }
            read.set(read.get() + 1);
            Ok(())
        });
        result.unwrap();
        assert!(read.get() > 1000, "{to}: {}", read.get());
    }
}
