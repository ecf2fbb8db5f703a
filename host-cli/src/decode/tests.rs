//! Any cut of the input and any number of threads give the same records, those of the live tracker; and what strangers feed us.

use super::*;
use crate::{
    args::line::FrameArgs,
    capture,
    endpoint::{Chunk, Direction, FcsName, FramingName, Gap, Item, PortInfo, Wiring},
    observatory,
    report::{Format, Look, Names, Record, Start, Sum, Tracker, renderer},
};
use bellwire::{
    fcs::Fcs16,
    frame::{self, Ack, Class, Header, Kind},
    framing::{Cobs, Lead},
};
use bellwire_tests::{seed::seed, vector};
use proptest::prelude::*;
use std::{
    collections::VecDeque,
    io::Read,
    sync::{Arc, atomic::AtomicBool},
};

/// Gives its octets in pieces of the given sizes, again and again.
struct Dribble {
    octets: VecDeque<u8>,
    sizes: Vec<usize>,
    next: usize,
}

impl Read for Dribble {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let size = self.sizes[self.next % self.sizes.len()].min(buffer.len());
        self.next += 1;
        self.octets.read(&mut buffer[..size])
    }
}

fn dribble(octets: &[u8], sizes: &[usize]) -> Box<dyn Read + Send> {
    Box::new(Dribble { octets: octets.iter().copied().collect(), sizes: sizes.to_vec(), next: 0 })
}

fn args(wiring: Wiring) -> FrameArgs {
    FrameArgs { framing: Some(wiring.framing), fcs: Some(wiring.fcs), map: Some(wiring.map) }
}

struct Decoded {
    text: String,
    done: Result<Done, crate::fail::Fail>,
}

fn decode_as(
    input: Box<dyn Read + Send>,
    form: Option<Form>,
    frame: FrameArgs,
    threads: usize,
    format: Format,
    filter: &Filter,
) -> Decoded {
    let input = Input::new(input, form, frame).expect("input");
    let start = Arc::new(Start::default());
    let table = Arc::new(observatory::table());
    let render = renderer(format, Look::default(), table, Names::default(), Arc::clone(&start));
    let mut out = Vec::new();
    render.head(&mut out);
    let stop = AtomicBool::new(false);
    let plan = Plan { threads, show: Show::All, filter, render: &*render, start: &start, stop: &stop };
    let done = run(input, &mut out, &plan);
    Decoded { text: String::from_utf8(out).expect("UTF-8"), done }
}

fn json(octets: &[u8], sizes: &[usize], form: Form, wiring: Wiring, threads: usize) -> (String, Sum) {
    let input = dribble(octets, sizes);
    let open = Filter::default();
    let decoded = decode_as(input, Some(form), args(wiring), threads, Format::Json, &open);
    (decoded.text, decoded.done.expect("decoded").sum)
}

/// What the live tracker makes of the same.
fn tracked(items: impl IntoIterator<Item = Item>, wiring: Wiring) -> (String, Sum) {
    let start = Arc::new(Start::default());
    let table = Arc::new(observatory::table());
    let render = renderer(Format::Json, Look::default(), table, Names::default(), Arc::clone(&start));
    let mut tracker = Tracker::new(wiring);
    let mut out = Vec::new();
    for item in items {
        if let Some(at) = item.at() {
            let _ = start.get(at);
        }
        tracker.item(item, &mut |record| render.record(&record, &mut out));
    }
    tracker.finish(&mut |record| render.record(&record, &mut out));
    let sum = tracker.sum().clone();
    render.record(&Record::Sum(Box::new(sum.clone())), &mut out);
    (String::from_utf8(out).unwrap(), sum)
}

fn tracked_octets(octets: &[u8], wiring: Wiring) -> (String, Sum) {
    let render = renderer(
        Format::Json,
        Look::default(),
        Arc::new(observatory::table()),
        Names::default(),
        Arc::default(),
    );
    let mut tracker = Tracker::new(wiring);
    let mut out = Vec::new();
    tracker.octets(None, 0, Direction::In, octets, &mut |record| render.record(&record, &mut out));
    tracker.finish(&mut |record| render.record(&record, &mut out));
    let sum = tracker.sum().clone();
    render.record(&Record::Sum(Box::new(sum.clone())), &mut out);
    (String::from_utf8(out).unwrap(), sum)
}

fn any_frame() -> impl Strategy<Value = Vec<u8>> {
    let kind = prop_oneof![
        Just(Kind::Errand),
        Just(Kind::Report),
        Just(Kind::SetPoint),
        Just(Kind::Notice),
        Just(Kind::Ack)
    ];
    let payload = (0_u8..12, proptest::collection::vec(any::<u8>(), 0..40));
    (kind, any::<u8>(), 0_u8..4, payload, proptest::option::of(0_u8..8)).prop_map(
        |(kind, number, session, (of, body), next)| {
            let next = if kind == Kind::Ack { next.or(Some(1)) } else { next };
            let payload = if kind == Kind::Ack { vec![] } else { [&[of][..], &body].concat() };
            let ack = next.map(|next| Ack { next, held: None });
            encode(&Header { number: number % 16, session, ack, ..Header::new(kind) }, &payload)
        },
    )
}

fn encode(header: &Header, payload: &[u8]) -> Vec<u8> {
    let mut out = vec![0; 2 * payload.len() + 40];
    let len = frame::write::<Cobs, Fcs16>(&Cobs, header, payload, Lead::Delimiter, &mut out).unwrap();
    out.truncate(len);
    out
}

fn any_stream() -> impl Strategy<Value = Vec<u8>> {
    let garbage = proptest::collection::vec(any::<u8>(), 0..40);
    let text = "[ -~\r\n]{0,60}\0".prop_map(String::into_bytes);
    let run = (prop_oneof![Just(0xFF), Just(b'a'), Just(0)], 0_usize..3000)
        .prop_map(|(octet, len)| vec![octet; len]);
    let part = prop_oneof![6 => any_frame(), 1 => garbage, 1 => text, 1 => run];
    proptest::collection::vec(part, 0..40).prop_map(|parts| parts.concat())
}

const WIRINGS: [Wiring; 3] = [
    Wiring { framing: FramingName::Cobs, fcs: FcsName::Bits16, map: 0 },
    Wiring { framing: FramingName::OctetStuffing, fcs: FcsName::Bits32, map: 0x000A_0008 },
    Wiring { framing: FramingName::Slip, fcs: FcsName::Bits16, map: 0 },
];

#[test]
fn any_cut_and_any_number_of_threads_give_the_records_of_the_tracker() {
    let seed = seed("any_cut_and_any_number_of_threads_give_the_records_of_the_tracker");
    let sizes = proptest::collection::vec(1_usize..200, 1..8);
    let result = seed.runner(64).run(&(any_stream(), sizes, 0..WIRINGS.len()), |(stream, sizes, wiring)| {
        let wiring = WIRINGS[wiring];
        let wanted = tracked_octets(&stream, wiring);
        for threads in [1, 2, 5] {
            prop_assert_eq!(&json(&stream, &sizes, Form::Octets, wiring, threads), &wanted);
        }
        Ok(())
    });
    result.unwrap();
}

#[test]
fn a_capture_gives_the_records_of_the_tracker() {
    let seed = seed("a_capture_gives_the_records_of_the_tracker");
    let chunk = (0_u16..2, any::<bool>(), any_stream(), 0_u64..5_000_000);
    let piece = prop_oneof![9 => chunk.prop_map(Some), 1 => Just(None)];
    let sizes = proptest::collection::vec(1_usize..500, 1..5);
    let strategy = (proptest::collection::vec(piece, 0..20), sizes);
    let result = seed.runner(64).run(&strategy, |(pieces, sizes)| {
        let mut at = 1_764_062_400_000_000_000;
        let items: Vec<Item> = pieces
            .into_iter()
            .map(|piece| match piece {
                Some((port, out, octets, step)) => {
                    at += step;
                    let direction = if out { Direction::Out } else { Direction::In };
                    Item::Chunk(Chunk { at, port, direction, octets })
                }
                None => Item::Gap(Gap { port: 1, from: at, to: None, why: "unplugged".into() }),
            })
            .collect();
        let mut writer = capture::Writer::new();
        writer.section();
        ["desk", "mast"].iter().for_each(|name| writer.port(&PortInfo::named(*name)));
        for item in &items {
            match item {
                Item::Chunk(chunk) => writer.chunk(chunk),
                Item::Gap(gap) => writer.gap(gap),
                _ => {}
            }
        }
        let wanted = tracked(items, Wiring::default());
        for threads in [1, 3] {
            let decoded = json(writer.octets(), &sizes, Form::Capture, Wiring::default(), threads);
            prop_assert_eq!(&decoded, &wanted);
        }
        Ok(())
    });
    result.unwrap();
}

/// Oracles: `serde_json` and `csv`, general-purpose readers of both forms.
#[test]
fn every_line_is_json_or_a_row_and_both_say_the_same() {
    let seed = seed("every_line_is_json_or_a_row_and_both_say_the_same");
    let result = seed.runner(64).run(&any_stream(), |stream| {
        let (text, sum) = json(&stream, &[4096], Form::Octets, Wiring::default(), 1);
        let values: Vec<serde_json::Value> =
            text.lines().map(|line| serde_json::from_str(line).expect(line)).collect();
        let open = Filter::default();
        let rows = dribble(&stream, &[4096]);
        let rows = decode_as(rows, Some(Form::Octets), args(Wiring::default()), 1, Format::Csv, &open);
        let mut reader = csv::Reader::from_reader(rows.text.as_bytes());
        let head = reader.headers().unwrap().clone();
        let rows: Vec<_> = reader.records().map(|row| row.expect("row")).collect();
        prop_assert_eq!(values.len(), rows.len());
        for (value, row) in values.iter().zip(&rows) {
            let cell = |name: &str| &row[head.iter().position(|column| column == name).expect(name)];
            let said = |name: &str| match &value[name] {
                serde_json::Value::Null => String::new(),
                serde_json::Value::String(text) => text.clone(),
                other => other.to_string(),
            };
            prop_assert_eq!(cell("record"), said("record"));
            if value["record"] == "frame" {
                for name in [
                    "port",
                    "direction",
                    "place",
                    "wire",
                    "kind",
                    "number",
                    "next",
                    "held",
                    "message",
                    "name",
                ] {
                    prop_assert_eq!(cell(name), said(name), "{}", name);
                }
                prop_assert_eq!(cell("octets"), said("payload"));
            }
        }
        let frames = values.iter().filter(|value| value["record"] == "frame").count() as u64;
        prop_assert_eq!(frames, sum.all_frames());
        prop_assert_eq!(&values.last().unwrap()["octets"], &stream.len());
        Ok(())
    });
    result.unwrap();
}

#[test]
fn values_survive_json_exactly() {
    let message =
        observatory::Message::LogLine { text: "a \"quoted\" line\\\n\u{1b}[2J\u{7f} 21 °C".into() };
    let rate = observatory::Message::DomeRate { rate: i16::MIN };
    let stream = [
        encode(&Header::new(Kind::Notice), &message.payload()),
        encode(&Header::new(Kind::SetPoint), &rate.payload()),
    ];
    let (text, _) = json(&stream.concat(), &[4096], Form::Octets, Wiring::default(), 1);
    let values: Vec<serde_json::Value> =
        text.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert_eq!(values[0]["values"]["text"], "a \"quoted\" line\\\n\u{1b}[2J\u{7f} 21 °C");
    assert_eq!(values[1]["values"]["rate"], serde_json::json!(-327.68));
    assert_eq!(values[1]["units"]["rate"], "°/s");
    assert!(!text.contains(|c: char| c.is_control() && c != '\n'));
}

#[test]
fn every_golden_frame_and_reject_works_as_hex_text() {
    let open = Filter::default();
    let mut count = 0;
    let wiring = |line: &vector::Line| Wiring {
        framing: match line.framing {
            vector::FramingName::Cobs => FramingName::Cobs,
            vector::FramingName::OctetStuffing => FramingName::OctetStuffing,
            vector::FramingName::Slip => FramingName::Slip,
            vector::FramingName::Datagram => FramingName::Datagram,
        },
        fcs: line.fcs.to_string().parse().unwrap(),
        map: line.map,
    };
    for frame in vector::read::<vector::Frame>("frames") {
        let text = format!("{}\n", vector::hex(&frame.wire.0));
        let input = dribble(text.as_bytes(), &[7]);
        let decoded = decode_as(input, None, args(wiring(&frame.line)), 1, Format::Json, &open);
        assert_eq!(decoded.done.unwrap().sum.all_frames(), 1, "{}", frame.name);
        count += 1;
    }
    // Those for a small buffer are not refused here: the decoder's takes every frame.
    for reject in
        vector::read::<vector::Rejected>("rejects").into_iter().filter(|reject| reject.line.buffer == 0)
    {
        let text = vector::hex(&reject.wire.0);
        let input = dribble(text.as_bytes(), &[4096]);
        let decoded = decode_as(input, None, args(wiring(&reject.line)), 1, Format::Json, &open);
        let first: serde_json::Value = serde_json::from_str(decoded.text.lines().next().unwrap()).unwrap();
        assert_eq!(
            (&first["record"], &first["rule"]),
            (&"reject".into(), &reject.rule.as_str().into()),
            "{}",
            reject.name
        );
        count += 1;
    }
    assert!(count > 100, "only {count} vectors");
}

#[test]
fn zeros_ones_and_noise_make_no_frames() {
    let seed = seed("zeros_ones_and_noise_make_no_frames");
    // Steele, Lea and Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014.
    let mut state = seed.value();
    let noise = (0..500_000).flat_map(|_| {
        state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mixed = (state ^ state >> 30).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        let mixed = (mixed ^ mixed >> 27).wrapping_mul(0x94D0_49BB_1331_11EB);
        (mixed ^ mixed >> 31).to_le_bytes()
    });
    let noise = noise.collect();
    for octets in [vec![0; 1_000_000], vec![0xFF; 1_000_000], noise] {
        for wiring in WIRINGS {
            let (_, sum) = json(&octets, &[1 << 16], Form::Octets, wiring, 2);
            // About 16 000 candidates, each with odds of 2^-16 to pass the FCS: more than 6 has odds below 1e-8.
            assert!(sum.all_frames() <= 6, "{} frames", sum.all_frames());
            assert_eq!(sum.octets, octets.len() as u64);
        }
    }
}

#[test]
fn filters_choose_what_is_shown_and_leave_the_sum_alone() {
    let rate = observatory::Message::DomeRate { rate: 1 }.payload();
    let weather = observatory::Message::Weather { wind: 1, rain: false, sky: 0, light: 0 }.payload();
    let mut stream = Vec::new();
    for number in 0..10 {
        stream.extend(encode(&Header { number, ..Header::new(Kind::SetPoint) }, &rate));
        stream.extend(encode(&Header { number, ..Header::new(Kind::Notice) }, &weather));
    }
    stream.extend(b"text\0");
    let shown = |filter: &Filter| {
        let decoded =
            decode_as(dribble(&stream, &[64]), None, args(Wiring::default()), 2, Format::Json, filter);
        let sum = decoded.done.unwrap().sum;
        assert_eq!((sum.all_frames(), sum.text_octets), (20, 4));
        let lines = decoded.text.lines().count() as u64 - 1;
        assert_eq!(sum.shown.unwrap_or(lines), lines);
        lines
    };
    let filter = Filter::default;
    assert_eq!(shown(&filter()), 21);
    assert_eq!(shown(&Filter { kinds: vec![Kind::Notice], ..filter() }), 10);
    assert_eq!(shown(&Filter { classes: vec![Class::SetPoint], numbers: vec![3..=5], ..filter() }), 3);
    assert_eq!(shown(&Filter { messages: vec![8], ..filter() }), 10);
    assert_eq!(shown(&Filter { records: vec!["text".into()], ..filter() }), 1);
    assert_eq!(shown(&Filter { addresses: vec![1], ..filter() }), 0);
    assert_eq!(shown(&Filter { from: Some(0), ..filter() }), 0, "without times nothing passes");
}

#[test]
fn a_torn_capture_is_read_up_to_its_tear() {
    let mut writer = capture::Writer::new();
    writer.section();
    writer.port(&PortInfo::named("desk"));
    let rate = observatory::Message::DomeRate { rate: 1 }.payload();
    for number in 0..3 {
        let octets = encode(&Header { number, ..Header::new(Kind::SetPoint) }, &rate);
        writer.chunk(&Chunk { at: 1, port: 0, direction: Direction::In, octets });
    }
    let whole = writer.octets();
    let open = Filter::default();
    let torn = &whole[..whole.len() - 5];
    let decoded = decode_as(dribble(torn, &[33]), None, args(Wiring::default()), 2, Format::Text, &open);
    let done = decoded.done.unwrap();
    assert_eq!(done.sum.all_frames(), 2);
    assert!(matches!(done.tail, Some(capture::Tail::Torn { .. })));
    assert!(decoded.text.contains("ends inside a block"));
}

#[test]
fn bad_hex_is_refused_with_its_line_after_all_before_it_was_decoded() {
    let open = Filter::default();
    let good = vector::hex(&encode(&Header::new(Kind::SetPoint), &[0, 2]));
    let text = format!("{good}\n{good}\nnot hex\n{good}\n");
    let decoded = decode_as(
        dribble(text.as_bytes(), &[4096]),
        Some(Form::Hex),
        args(Wiring::default()),
        2,
        Format::Json,
        &open,
    );
    let fail = decoded.done.unwrap_err();
    assert!(fail.to_string().contains("line 3"), "{fail}");
    assert_eq!(fail.exit(), crate::exit::Exit::BadInput);
    assert_eq!(
        decoded
            .text
            .lines()
            .filter(|line| line.contains("set-point") && line.contains("payload\":\"00"))
            .count(),
        2
    );
}

#[test]
fn the_right_framing_is_named_where_the_wrong_one_finds_nothing() {
    let frame = vector::read::<vector::Frame>("frames")
        .into_iter()
        .find(|frame| frame.line.framing == vector::FramingName::Slip && frame.line.fcs == 32)
        .unwrap();
    let open = Filter::default();
    let decoded = decode_as(
        dribble(&frame.wire.0, &[9]),
        Some(Form::Octets),
        args(Wiring::default()),
        1,
        Format::Json,
        &open,
    );
    let wanted = Wiring { framing: FramingName::Slip, fcs: FcsName::Bits32, map: 0 };
    assert_eq!(decoded.done.unwrap().guess, Some((wanted, 1)));
}

#[test]
fn a_closed_output_ends_the_run_quietly() {
    struct Closed;
    impl std::io::Write for Closed {
        fn write(&mut self, _: &[u8]) -> std::io::Result<usize> {
            Err(std::io::ErrorKind::BrokenPipe.into())
        }
        fn flush(&mut self) -> std::io::Result<()> {
            Ok(())
        }
    }
    let stream = encode(&Header::new(Kind::SetPoint), &[0, 2]).repeat(1000);
    let input = Input::new(dribble(&stream, &[100]), None, FrameArgs::default()).unwrap();
    let start = Arc::new(Start::default());
    let table = Arc::new(observatory::table());
    let render = renderer(Format::Json, Look::default(), table, Names::default(), Arc::clone(&start));
    let (filter, stop) = (Filter::default(), AtomicBool::new(false));
    let plan =
        Plan { threads: 3, show: Show::All, filter: &filter, render: &*render, start: &start, stop: &stop };
    assert!(run(input, &mut Closed, &plan).unwrap_err().is_quiet());
}
