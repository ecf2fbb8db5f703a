//! `tests/vectors/conversations.json` and section 10 of WIRE.md hold what two links of this crate really say.
//!
//! `BELLWIRE_WRITE=1 cargo test -p bellwire-tests --test conversations` records them anew; then look at the difference.

use bellwire::frame::Class::{Errand, Notice, Report, SetPoint};
use bellwire_tests::{
    conversation::{Mishap, Plan, record},
    tool::root,
    vector::FramingName,
};
use serde_json::Value;

const DESK: usize = 0;
const DOME: usize = 1;

fn plan(name: &'static str, shows: &'static str, end: u64) -> Plan {
    Plan {
        name,
        shows,
        framing: FramingName::Cobs,
        fingerprints: [0, 0],
        starts: [0, 20],
        sends: Vec::new(),
        happens: Vec::new(),
        end,
    }
}

fn lamp() -> Vec<u8> {
    vec![9, 40]
}

fn plans() -> Vec<Plan> {
    [openings(), losses(), pauses()].concat()
}

/// The worked exchanges and openings.
fn openings() -> Vec<Plan> {
    vec![
        Plan {
            sends: vec![
                (100, DESK, Errand, lamp()),
                (150, DESK, SetPoint, vec![0, 0xE8, 0x07]),
                (200, DESK, Errand, lamp()),
            ],
            happens: vec![(199, DESK, Mishap::Lose)],
            ..plan(
                "worked exchanges",
                "an opening, an errand, a set-point, a lost frame (section 10 of WIRE.md)",
                400,
            )
        },
        Plan {
            starts: [0, 0],
            ..plan("both at once", "W-35: both sides are switched on at the same time", 100)
        },
    ]
}

/// What is lost and what becomes of it.
fn losses() -> Vec<Plan> {
    vec![
        Plan {
            sends: vec![(100, DESK, Errand, lamp())],
            happens: vec![(99, DOME, Mishap::Lose)],
            ..plan("a lost acknowledgement", "the errand arrives twice and is handed over once", 300)
        },
        Plan {
            sends: vec![(100, DESK, Errand, lamp()), (101, DESK, Errand, vec![9, 0])],
            happens: vec![
                (100, DOME, Mishap::Cut),
                (103, DESK, Mishap::Cut),
                (110, DESK, Mishap::Restart),
                (150, DESK, Mishap::Mend),
                (150, DOME, Mishap::Mend),
            ],
            ..plan(
                "the sender restarts",
                "what it had under way is lost to it; the other side ends the session",
                500,
            )
        },
        Plan {
            sends: vec![(100, DESK, Errand, lamp()), (120, DESK, Report, vec![3, 0, 0])],
            happens: vec![(99, DESK, Mishap::Cut), (130, DOME, Mishap::Restart), (300, DESK, Mishap::Mend)],
            ..plan("the receiver restarts", "items under way become unknown", 1_000)
        },
        Plan {
            sends: vec![(100, DESK, Errand, lamp()), (2_600, DESK, Errand, lamp())],
            happens: vec![(99, DESK, Mishap::Cut), (2_400, DESK, Mishap::Mend)],
            ..plan("given up", "five sendings without an answer: unknown; a void takes its number", 4_000)
        },
    ]
}

/// Set-points, silence, mismatch, datagrams.
fn pauses() -> Vec<Plan> {
    vec![
        Plan {
            sends: (0..12)
                .map(|count| {
                    (100 + 10 * count, DESK, SetPoint, vec![0, 20 * u8::try_from(count).expect("few"), 1])
                })
                .collect(),
            happens: vec![(139, DESK, Mishap::Lose)],
            ..plan(
                "set-points",
                "a set-point every 10 ms; a lost one is missed by its number and not sent again",
                400,
            )
        },
        Plan {
            sends: vec![(500, DOME, Notice, vec![8, 12])],
            ..plan("keep-alive", "a side that has sent nothing for a second sends an acknowledgement", 4_000)
        },
        Plan {
            happens: vec![
                (1_500, DESK, Mishap::Cut),
                (1_500, DOME, Mishap::Cut),
                (6_000, DESK, Mishap::Mend),
                (6_000, DOME, Mishap::Mend),
            ],
            ..plan("a cut wire", "quiet, then the end by silence, then a new session", 9_000)
        },
        Plan {
            fingerprints: [0x1111_1111, 0x2222_2222],
            ..plan("a mismatch", "W-30: the agreements differ, so no session opens", 1_500)
        },
        Plan {
            framing: FramingName::Datagram,
            sends: vec![(1_500, DESK, Errand, lamp()), (1_520, DOME, SetPoint, vec![0, 2, 1])],
            happens: vec![(2_000, DOME, Mishap::Restart)],
            ..plan(
                "datagrams",
                "frames with a tag; a restarted peer is challenged first (W-29c, W-29b)",
                5_000,
            )
        },
    ]
}

#[test]
fn conversations_go_as_recorded() {
    let path = root().join("tests/vectors/conversations.json");
    let recorded: Vec<Value> = plans().iter().map(record).collect();
    let lines: Vec<_> = recorded.iter().map(|conversation| conversation.to_string()).collect();
    let text = format!("[\n{}\n]\n", lines.join(",\n"));
    if std::env::var_os("BELLWIRE_WRITE").is_some() {
        std::fs::write(&path, &text).expect("writable");
    }
    let wanted: Vec<Value> = bellwire_tests::vector::read("conversations");
    for (got, wanted) in recorded.iter().zip(&wanted) {
        let steps = |conversation: &Value| conversation["steps"].as_array().expect("steps").clone();
        for (count, (got, wanted)) in steps(got).iter().zip(&steps(wanted)).enumerate() {
            assert_eq!(got, wanted, "{}, step {count}", wanted["name"]);
        }
        assert_eq!(got, wanted);
    }
    assert_eq!(recorded.len(), wanted.len());
}

/// The hex of section 10 is that of the first conversation, line by line.
#[test]
fn wire_md_shows_what_is_said() {
    let text = std::fs::read_to_string(root().join("core/WIRE.md")).expect("WIRE.md");
    let (_, section) = text.split_once("## 10. ").expect("section 10");
    let shown: Vec<(String, String)> = section
        .lines()
        .filter_map(|line| {
            let (side, rest) = line.split_once(" > ")?;
            let hex: String = rest.to_lowercase().split(' ').collect();
            Some((side.rsplit(' ').next()?.to_owned(), hex))
        })
        .collect();
    let conversation = record(&plans()[0]);
    let said: Vec<(String, String)> = conversation["steps"]
        .as_array()
        .expect("steps")
        .iter()
        .filter_map(|step| Some((step["side"].as_str()?.to_owned(), step["sends"].as_str()?.to_owned())))
        .collect();
    assert_eq!(shown, said);
}
