//! Any cut of the input and any number of threads give the same records, those of the live tracker; and what strangers feed us.

mod cuts;
mod forms;
mod strangers;

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
