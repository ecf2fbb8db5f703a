//! Conversations seen by a listener, and how they are shown.

use super::*;
use crate::{
    endpoint::{Chunk, Direction, Wiring},
    observatory::{self, Message, Motion, ShutterMove},
};
use bellwire::{
    fcs::Fcs16,
    frame::{self, Ack, Class, Header, Kind, Open, ResetCause},
    framing::{Cobs, Lead},
};
use std::sync::Arc;
use unicode_width::UnicodeWidthStr;

mod hostile;
mod relayed;

const START: u64 = 1_764_062_400_000_000_000;

fn wire(header: &Header, payload: &[u8]) -> Vec<u8> {
    let mut out = vec![0; 2 * payload.len() + 40];
    let len = frame::write::<Cobs, Fcs16>(&Cobs, header, payload, Lead::Delimiter, &mut out).unwrap();
    out.truncate(len);
    out
}

fn message(message: &Message, number: u8, session: u8, next: Option<u8>) -> Vec<u8> {
    let ack = next.map(|next| Ack { next, held: None });
    wire(&Header { number, session, ack, ..Header::new(message.class().kind()) }, &message.payload())
}

fn open(mine: u32, echo: Option<u32>, ask: bool) -> Vec<u8> {
    let open = Open {
        version: 1,
        ask,
        numberless: false,
        cause: ResetCause::Power,
        mine,
        echo,
        window: 4,
        max_payload: 240,
        fingerprint: observatory::FINGERPRINT,
        silence: 30,
        identity: u64::from(mine),
    };
    wire(&Header::new(Kind::Open), &open.octets())
}

fn ack(next: u8, held: Option<u8>, session: u8) -> Vec<u8> {
    wire(&Header { session, ack: Some(Ack { next, held }), ..Header::new(Kind::Ack) }, &[])
}

/// A conversation as chunks, one a millisecond.
struct Talk(Vec<Chunk>);

impl Talk {
    fn put(&mut self, direction: Direction, octets: Vec<u8>) -> &mut Self {
        let at = START + self.0.len() as u64 * 1_000_000;
        self.0.push(Chunk { at, port: 0, direction, octets });
        self
    }

    fn opened() -> Self {
        let mut talk = Self(Vec::new());
        talk.put(Direction::Out, open(100, None, true));
        talk.put(Direction::In, open(203, Some(100), true));
        talk.put(Direction::Out, open(100, Some(203), false));
        talk
    }
}

/// Session bits of `Talk::opened`: (100 + 203) mod 4.
const BITS: u8 = 3;

fn records(talk: &Talk) -> (Vec<Record<'static>>, Sum) {
    let mut tracker = Tracker::new(Wiring::default());
    let mut records = Vec::new();
    for chunk in &talk.0 {
        tracker.chunk(chunk, &mut |record| records.push(record.into_owned()));
    }
    tracker.finish(&mut |record| records.push(record.into_owned()));
    (records, tracker.sum().clone())
}

fn events(records: &[Record<'_>]) -> Vec<What> {
    records
        .iter()
        .filter_map(|record| match record {
            Record::Event(event) => Some(event.what.clone()),
            _ => None,
        })
        .collect()
}

fn lines(records: &[Record<'_>], look: Look) -> String {
    let render =
        renderer(Format::Text, look, Arc::new(observatory::table()), Names::default(), Arc::default());
    let mut out = Vec::new();
    records.iter().for_each(|record| render.record(record, &mut out));
    String::from_utf8(out).unwrap()
}

/// An opening, an errand that is lost once on the way to its receiver, a set-point lost to us, a refused frame, text, a restart.
fn eventful() -> Talk {
    let (goto, rate) = (Message::DomeGoto { azimuth: 9000 }, Message::DomeRate { rate: 125 });
    let state = Message::DomeState { azimuth: 18_120, rate: 125, shutter: 100, motion: Motion::Running };
    let mut damaged = message(&rate, 2, BITS, None);
    damaged[5] ^= 0x40;
    let mut talk = Talk::opened();
    talk.put(Direction::Out, message(&goto, 0, BITS, None))
        .put(Direction::Out, message(&rate, 0, BITS, None))
        .put(Direction::Out, message(&goto, 0, BITS, None))
        .put(Direction::In, message(&state, 0, BITS, Some(1)))
        .put(Direction::Out, message(&rate, 1, BITS, Some(1)))
        .put(Direction::Out, damaged)
        .put(Direction::Out, message(&rate, 3, BITS, None))
        .put(Direction::In, b"\x00mast login: \x00".to_vec())
        .put(Direction::In, open(777, None, true));
    talk
}

#[test]
fn a_listener_tells_what_was_opened_resent_lost_delivered_and_restarted() {
    let (records, sum) = records(&eventful());
    let goto = Some(1);
    assert_eq!(
        events(&records),
        [
            What::Opened { session: 303, window: 4, max_payload: 240, identity_in: 203, identity_out: 100 },
            What::Delivered {
                class: Class::Errand,
                number: 0,
                message: goto,
                sendings: 2,
                after: Some(3_000_000)
            },
            What::Delivered {
                class: Class::Report,
                number: 0,
                message: Some(3),
                sendings: 1,
                after: Some(1_000_000)
            },
            What::Missing { class: Class::SetPoint, first: 2, count: 1 },
            What::Restarted { cause: ResetCause::Power },
        ]
    );
    assert_eq!(sum.class(Class::Errand), &Numbered { new: 1, resent: 1, missing: 0, octets: 3 });
    assert_eq!(sum.class(Class::SetPoint), &Numbered { new: 3, resent: 0, missing: 1, octets: 9 });
    assert_eq!((sum.all_frames(), sum.all_rejects(), sum.text_octets), (10, 1, 12));
    assert_eq!((sum.opened, sum.restarts, sum.delivered, sum.round_trips), (1, 1, 2, 1));
}

#[test]
fn any_cut_of_the_octets_gives_the_same_records() {
    let whole = eventful();
    let (wanted, sum) = records(&whole);
    let mut cut = Talk(Vec::new());
    for chunk in &whole.0 {
        cut.0.extend(chunk.octets.iter().map(|&octet| Chunk { octets: vec![octet], ..chunk.clone() }));
    }
    assert_eq!(records(&cut), (wanted, sum));
}

#[test]
fn who_joins_late_decodes_every_frame_and_finds_the_session() {
    let whole = eventful();
    for skipped in 0..whole.0.len() {
        let late = Talk(whole.0[skipped..].to_vec());
        let (records, sum) = records(&late);
        let whole = records_of(&whole.0[skipped..]);
        let frames = records.iter().filter(|record| matches!(record, Record::Frame(_))).count();
        assert_eq!(frames, whole, "joined at {skipped}");
        assert_eq!(sum.other_session, 0, "joined at {skipped}");
    }
}

/// Frames in chunks each read on its own: what is there to be decoded.
fn records_of(chunks: &[Chunk]) -> usize {
    chunks
        .iter()
        .map(|chunk| {
            let (records, _) = records(&Talk(vec![chunk.clone()]));
            records.iter().filter(|record| matches!(record, Record::Frame(_))).count()
        })
        .sum()
}

#[test]
fn voids_reports_out_of_order_and_foreign_sessions() {
    let state = Message::DomeState { azimuth: 1, rate: 0, shutter: 0, motion: Motion::Held };
    let void = wire(&Header { number: 1, session: BITS, ..Header::new(Kind::Report) }, &[]);
    let mut talk = Talk::opened();
    talk.put(Direction::Out, open(100, Some(203), false)) // repeated: nothing new
        .put(Direction::In, message(&state, 0, BITS, None))
        .put(Direction::In, message(&state, 2, BITS, None)) // 1 is lost to us
        .put(Direction::Out, ack(1, Some(0b1), BITS)) // 0 by next, 2 by its bit
        .put(Direction::In, void.clone())
        .put(Direction::In, void)
        .put(Direction::Out, ack(3, None, BITS))
        .put(Direction::In, message(&state, 9, 1, None)); // an old frame
    let (records, sum) = records(&talk);
    let report = |number, after| What::Delivered {
        class: Class::Report,
        number,
        message: Some(3),
        sendings: 1,
        after: Some(after),
    };
    assert_eq!(
        events(&records)[1..],
        [
            What::Missing { class: Class::Errand, first: 1, count: 1 },
            report(0, 2_000_000),
            report(2, 1_000_000),
            What::GivenUp { number: 1, message: None },
            What::OtherSession { session: 1 },
        ]
    );
    assert_eq!((sum.given_up, sum.delivered, sum.other_session, sum.opened), (1, 2, 1, 1));
}

#[test]
fn differing_agreements_are_told_once_and_name_both_sides() {
    let mut other = Open::parse(&Open { ..parse(&open(203, Some(100), true)) }.octets()).unwrap();
    other.fingerprint = 0xBAD;
    let other = wire(&Header::new(Kind::Open), &other.octets());
    let mut talk = Talk(Vec::new());
    for _ in 0..3 {
        talk.put(Direction::Out, open(100, None, true)).put(Direction::In, other.clone());
    }
    let wanted = What::Differs {
        fingerprint_in: 0xBAD,
        fingerprint_out: observatory::FINGERPRINT,
        version_in: 1,
        version_out: 1,
    };
    assert_eq!(events(&records(&talk).0), [wanted]);
}

fn parse(octets: &[u8]) -> Open {
    let mut reader = frame::Reader::<Cobs, Fcs16, 64>::new(Cobs);
    match reader.feed(octets) {
        (_, Some(frame::Read::Frame(view))) => view.open().unwrap(),
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_prompt_is_shown_before_its_delimiter_and_not_twice() {
    let mut tracker = Tracker::new(Wiring::default());
    let mut seen = Vec::new();
    let mut sink = |record: Record<'_>| {
        if let Record::Text(text) = record {
            seen.push((String::from_utf8(text.octets.into_owned()).unwrap(), text.stamp.place));
        }
    };
    let chunk =
        |octets: &[u8]| Chunk { at: START, port: 0, direction: Direction::In, octets: octets.to_vec() };
    tracker.chunk(&chunk(b"\x00mast login: "), &mut sink);
    tracker.tick(START + 100_000_000, &mut sink);
    tracker.tick(START + 400_000_000, &mut sink);
    tracker.tick(START + 800_000_000, &mut sink);
    tracker.chunk(&chunk(b"root\r\n"), &mut sink);
    tracker.chunk(&chunk(b"\x00>>> "), &mut sink);
    tracker.finish(&mut sink);
    assert_eq!(seen, [("mast login: ".to_owned(), 0), ("root\r\n".to_owned(), 12), (">>> ".to_owned(), 20)]);
}

#[test]
fn silence_is_told_once_and_by_whom() {
    let mut tracker = Tracker::new(Wiring::default());
    let mut told = Vec::new();
    let mut sink = |record: Record<'_>| {
        if let Record::Event(Event { stamp, what: What::Silent { lasted }, .. }) = record {
            told.push((stamp.direction, lasted));
        }
    };
    for chunk in &Talk::opened().0 {
        tracker.chunk(chunk, &mut sink);
    }
    // Each side promised 3 s; the desk's last octets came at 2 ms.
    tracker.tick(START + 3_000_000_000, &mut sink);
    tracker.tick(START + 3_001_500_000, &mut sink);
    tracker.tick(START + 3_100_000_000, &mut sink);
    tracker.tick(START + 9_000_000_000, &mut sink);
    assert_eq!(told, [(Direction::In, 3_000_500_000), (Direction::Out, 3_098_000_000)]);
}

#[test]
fn lines_fit_eighty_columns_and_say_it_in_words() {
    let (mut all, sum) = records(&eventful());
    let log = Message::LogLine { text: "a b  c\x1b[2J".repeat(20) };
    let mut talk = Talk(Vec::new());
    talk.put(Direction::In, message(&log, 0, 0, None))
        .put(Direction::In, message(&Message::Shutter { action: ShutterMove::Close }, 7, 0, None))
        .put(Direction::In, b"\x1b[2Jboot\x07 ok\r\n\x00".to_vec());
    all.extend(records(&talk).0);
    all.push(Record::Sum(Box::new(sum)));
    for look in [Look::default(), Look { hex: true, ..Look::default() }] {
        let text = lines(&all, look);
        for line in text.lines() {
            assert!(line.width() <= 80, "{} columns: {line}", line.width());
            assert!(!line.chars().any(char::is_control), "{line:?}");
            assert!(!line.ends_with(' '), "{line:?}");
        }
        for wanted in [
            "SENT AGAIN, 2nd sending",
            "1 set-point missing: number 2",
            "bad FCS (W-11): damaged on the way",
            "errand 0 dome-goto after 3.0 ms, sent twice",
            "dome-rate rate=1.25 °/s",
            "a login prompt",
            "RESTARTED",
        ] {
            let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
            assert!(flat.contains(wanted), "{wanted} is not in\n{text}");
        }
    }
}

#[test]
fn colour_adds_nothing_but_colour() {
    let (records, _) = records(&eventful());
    let plain = lines(&records, Look::default());
    let coloured = lines(&records, Look { colour: true, ..Look::default() });
    assert_ne!(plain, coloured);
    let mut stripped = String::new();
    let mut rest = coloured.as_str();
    while let Some(at) = rest.find('\x1b') {
        stripped.push_str(&rest[..at]);
        rest = &rest[at..][rest[at..].find('m').unwrap() + 1..];
    }
    stripped.push_str(rest);
    assert_eq!(stripped, plain);
}

/// The document of the machine forms names every field that is written and every event.
#[test]
fn the_document_of_the_records_names_every_field() {
    let document = include_str!("../../RECORDS.md");
    let (mut all, sum) = records(&eventful());
    all.push(Record::Sum(Box::new(Sum { shown: Some(1), ..sum })));
    let stamp = Stamp { at: Some(START), port: 0, direction: Direction::In, place: 0 };
    let whats = [
        What::Ended,
        What::Differs { fingerprint_in: 1, fingerprint_out: 2, version_in: 1, version_out: 1 },
        What::SessionUnseen { session: 1 },
        What::OtherSession { session: 1 },
        What::GivenUp { number: 1, message: Some(1) },
        What::ProbeAnswered { id: 1, after: Some(1) },
        What::Silent { lasted: 1 },
    ];
    all.extend(whats.map(|what| Record::Event(Event { stamp, leaf: None, what })));
    all.push(Record::Gap(crate::endpoint::Gap {
        port: 0,
        from: START,
        to: Some(START + 5),
        why: "unplugged".into(),
    }));
    all.push(Record::Note(Note { at: Some(START), port: Some(0), text: "a remark".into() }));
    let render = renderer(
        Format::Json,
        Look::default(),
        Arc::new(observatory::table()),
        Names::default(),
        Arc::default(),
    );
    let mut out = Vec::new();
    all.iter().for_each(|record| render.record(record, &mut out));
    for line in String::from_utf8(out).unwrap().lines() {
        let object: serde_json::Map<String, serde_json::Value> = serde_json::from_str(line).expect(line);
        for key in
            object.keys().map(String::as_str).chain(object.get("event").and_then(|event| event.as_str()))
        {
            assert!(document.contains(&format!("`{key}`")), "`{key}` is not in RECORDS.md");
        }
    }
    assert!(document.contains(super::csv::HEAD.trim_end()));
}
