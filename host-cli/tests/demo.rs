//! The demo shows what the tour promises, when it promises it, and two runs with one seed are the same. The seeds
//! here are settings as a user gives them, so they are fixed.

use bellwire::frame::Reject;
use bellwire_cli::{
    demo,
    endpoint::{Item, Wiring},
    observatory::{Message, Motion},
    report::{Frame, Record, Tracker, What},
};
use std::time::Duration;

const SECOND: u64 = 1_000_000_000;

/// Everything that a run gives, without its end.
fn items(settings: &str) -> (Vec<Item>, Vec<String>) {
    let mut source = demo::listen(settings).unwrap();
    let mut items = Vec::new();
    loop {
        match source.next(Duration::from_secs(1)).unwrap().expect("a run that is not paced never waits") {
            Item::End => break,
            item => items.push(item),
        }
    }
    assert_eq!(source.next(Duration::ZERO).unwrap(), Some(Item::End), "the end stays the end");
    (items, source.closing())
}

/// The records of a run with their times since the first.
fn records(settings: &str) -> Vec<(u64, Record<'static>)> {
    let mut tracker = Tracker::new(Wiring::default());
    for (index, port) in demo::listen(settings).unwrap().ports().iter().enumerate() {
        tracker.set_wiring(u16::try_from(index).unwrap(), port.wiring.unwrap());
    }
    let mut records = Vec::new();
    let items = items(settings).0;
    let start = items[0].at().unwrap();
    for item in items {
        let now = item.at().unwrap();
        tracker.tick(now, &mut |record| records.push(record.into_owned()));
        tracker.item(item, &mut |record| records.push(record.into_owned()));
    }
    records.into_iter().map(|record| (record.at().unwrap() - start, record)).collect()
}

/// When the first record of this sort comes, ns.
fn first(records: &[(u64, Record<'_>)], what: &str, is: impl Fn(&Record<'_>) -> bool) -> u64 {
    records.iter().find(|(_, record)| is(record)).unwrap_or_else(|| panic!("no {what}")).0
}

fn says(record: &Record<'_>, words: &str) -> bool {
    matches!(record, Record::Note(note) if note.text.contains(words))
}

/// Why octets were refused: what the tool shows as a frame of an extension was not.
fn refusal(record: &Record<'_>) -> Option<Reject> {
    match record {
        Record::Reject(refusal) if refusal.beyond().is_none() => Some(refusal.reject),
        _ => None,
    }
}

#[test]
fn the_story_is_on_the_screen_in_time_whatever_the_seed() {
    for seed in 0..40 {
        let records = records(&format!("fast,seed={seed}"));
        let at = |what: &str, is: &dyn Fn(&Record<'_>) -> bool| first(&records, what, is);
        let again = at("repeat", &|record| matches!(record, Record::Frame(frame) if frame.sending == 2));
        let refused = at("refusal", &|record| refusal(record).is_some());
        assert!(again < 5 * SECOND && refused < 5 * SECOND, "seed {seed}: {again}, {refused}");
        let stopped = at("stop", &|record| says(record, "STOPPED: no news of the rate for 500 ms"));
        let alarm = at("alarm", &|record| says(record, "hears that the dome stopped for want of news"));
        let stop_value = at("stop value", &|record| says(record, "lets go"));
        let armed = records
            .iter()
            .find(|(at, record)| *at > stopped && says(record, "dome: re-armed"))
            .unwrap_or_else(|| panic!("seed {seed}: not re-armed"))
            .0;
        assert!(stopped < alarm && alarm < armed && stop_value < armed && armed < 15 * SECOND, "seed {seed}");
        let restarted = at(
            "restart",
            &|record| matches!(record, Record::Event(event) if matches!(event.what, What::Restarted { .. })),
        );
        assert!(restarted > 15 * SECOND && restarted < 20 * SECOND, "seed {seed}: {restarted}");
    }
}

#[test]
fn the_dome_never_turns_while_it_is_not_running() {
    for seed in 0..40 {
        let mut last: Option<(u16, Motion)> = None;
        for (_, record) in records(&format!("fast,noise=motor,seed={seed}")) {
            let Record::Frame(frame) = record else { continue };
            let Some(Message::DomeState { azimuth, rate, motion, .. }) =
                Message::from_payload(&frame.payload)
            else {
                continue;
            };
            if motion != Motion::Running {
                assert_eq!(rate, 0, "seed {seed}");
                if let Some((before, was)) = last
                    && was != Motion::Running
                {
                    assert_eq!(azimuth, before, "seed {seed}");
                }
            }
            last = Some((azimuth, motion));
        }
    }
}

#[test]
fn the_books_balance_with_every_noise_and_every_line_fits_the_screen() {
    for settings in (0..40).flat_map(|seed| ["clean", "bench", "motor"].map(|noise| (seed, noise))) {
        let (seed, noise) = settings;
        let settings = format!("fast,seed={seed},noise={noise}");
        let closing = items(&settings).1;
        assert!(closing.iter().any(|line| line.contains("did arrive")), "{settings}: {closing:#?}");
        let preamble = demo::listen(&settings).unwrap().preamble();
        for line in preamble.iter().chain(&closing) {
            assert!(line.chars().count() <= 80, "{line}");
        }
        assert!(preamble.iter().any(|line| line.contains(&format!("demo:seed={seed},noise={noise}"))));
        assert!(preamble[0].contains("NOTHING IS ATTACHED"));
        assert_eq!(
            closing.iter().filter(|line| line.contains(" demo:") || line.contains(" decode ")).count(),
            3
        );
        assert!(closing.iter().any(|line| line.contains("not an emergency stop")));
    }
}

#[test]
fn the_same_seed_gives_the_same_items_to_the_octet() {
    let one = items("fast,seed=3");
    assert_eq!(one, items("?fast&seed=3"));
    assert_ne!(one.0, items("fast,seed=4").0);
}

#[test]
fn a_clean_wire_refuses_nothing_but_what_the_story_damages() {
    let records = records("fast,noise=clean");
    let rejects: Vec<Reject> = records.iter().filter_map(|(_, record)| refusal(record)).collect();
    assert_eq!(rejects.len(), 1, "{rejects:?}");
}

#[test]
fn somebody_else_can_be_the_desk() {
    let tool = |line: &str| {
        let (mut out, mut err) = (Vec::new(), Vec::new());
        let mut shell = bellwire_cli::shell::Shell { out: &mut out, err: &mut err, stop: Default::default() };
        let exit = bellwire_cli::run(line.split(' ').map(Into::into), &mut shell);
        (exit, String::from_utf8(out).unwrap())
    };
    let (exit, out) = tool("bellwire inject demo:noise=clean shutter move=open --arm");
    assert!(exit == bellwire_cli::exit::Exit::Good && out.contains("delivered"), "{exit:?}\n{out}");
    let (exit, _) = tool("bellwire inject demo:seed=x shutter move=open --arm");
    assert_eq!(exit, bellwire_cli::exit::Exit::Usage);
}

/// Desk, dome and focuser on wires, mast and porch by radio: all are heard in every run, and what the operator wants of the porch, which sleeps, waits
/// until it is heard and then arrives.
#[test]
fn all_five_boards_talk_and_what_is_for_a_sleeper_waits_until_it_is_heard() {
    for seed in 0..20 {
        let records = records(&format!("fast,seed={seed}"));
        let frames = |is: &dyn Fn(&Frame<'_>) -> bool| {
            records.iter().filter(|(_, record)| matches!(record, Record::Frame(frame) if is(frame))).count()
        };
        let from = |leaf: u8| {
            frames(&|frame| {
                frame.header.addresses.is_some_and(|pair| pair.from == leaf) && frame.aired.is_some()
            })
        };
        assert!(from(3) > 5 && from(4) > 5, "seed {seed}: {} and {}", from(3), from(4));
        let focused = |frame: &Frame<'_>| {
            let message = Message::from_payload(&frame.payload);
            frame.stamp.port == 1 && matches!(message, Some(Message::FocuserState { position: 12_500, .. }))
        };
        assert!(frames(&focused) > 0, "seed {seed}: the focuser never got there");
        let wanted = first(&records, "wish", |record| says(record, "wants the porch lamp at 40 %"));
        let lamp = |record: &Record<'_>| matches!(record, Record::Frame(frame) if Message::from_payload(&frame.payload) == Some(Message::Lamp { level: 40 }));
        let sent = records.iter().position(|(_, record)| lamp(record)).expect("the lamp's errand");
        let before = records[..sent].iter().rev().find_map(|(at, record)| match record {
            Record::Frame(frame) if frame.header.addresses.is_some_and(|pair| pair.from == 4) => Some(*at),
            _ => None,
        });
        assert!(before >= Some(wanted), "seed {seed}: sent to a sleeper");
        assert!(records[sent].0 - before.unwrap() < SECOND / 10, "seed {seed}: it slept again");
        let lit = first(&records, "lamp", |record| says(record, "porch: the lamp is at 40 %"));
        assert!(lit > wanted, "seed {seed}");
    }
}
