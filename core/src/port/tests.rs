mod unsent;
mod verbs;

use std::{vec, vec::Vec};

use proptest::prelude::*;

use super::*;
use crate::{
    fcs::Fcs32,
    frame::{Reject, max_wire_len},
    framing::{OctetStuffing, Slip},
    io::{Medium, Memory, Received},
    link::{Message, Outcome, OwnNumber},
    time::{Duration, after},
};

type Board = Port<Memory<256>>;

const START: Instant = Instant::from_ticks(u32::MAX - 5_000);

fn board<L: Line>(line: L, random: u32) -> Port<L> {
    let mut port = Port::uart(line, Config::uart(115_200, OwnNumber::Random(random)), START);
    port.open(START);
    port
}

fn pair() -> (Board, Board) {
    (board(Memory::new(), 1), board(Memory::new(), 0x4000_0001))
}

/// What a board was told: messages by class and last octet with their stamp, and outcomes.
#[derive(Debug, PartialEq)]
enum Told {
    Message(Class, u8, Instant),
    Outcome(Outcome),
}

fn drain<L: Line, F: Framing>(port: &mut Port<L, F>, now: Instant) -> Vec<Told>
where
    L::Error: core::fmt::Debug,
{
    let mut told = vec![];
    while let Some(event) = port.service(now).unwrap() {
        match event {
            Event::Message(Message { class, payload, arrived, .. }) => {
                told.push(Told::Message(class, *payload.last().unwrap(), arrived));
            }
            Event::Outcome { outcome, .. } => told.push(Told::Outcome(outcome)),
            _ => {}
        }
    }
    told
}

/// Carries all octets from one memory line to the other.
fn carry(from: &mut Board, to: &mut Board, now: Instant) {
    while let Some(octet) = from.line_mut().depart() {
        to.line_mut().arrive(now, &[octet]).unwrap();
    }
}

/// Runs both boards for so many milliseconds.
fn run(desk: &mut Board, dome: &mut Board, now: &mut Instant, milliseconds: u32) -> (Vec<Told>, Vec<Told>) {
    let (mut first, mut second) = (vec![], vec![]);
    for _ in 0..milliseconds {
        first.extend(drain(desk, *now));
        second.extend(drain(dome, *now));
        *now = after(*now, Duration::from_millis(1));
        carry(desk, dome, *now);
        carry(dome, desk, *now);
    }
    (first, second)
}

#[test]
fn a_closed_port_is_silent_and_an_open_one_is_not() {
    let mut port = Port::uart(Memory::<64>::new(), Config::uart(115_200, OwnNumber::Random(1)), START);
    for second in 0..5 {
        assert_eq!(port.service(after(START, Duration::from_secs(second))), Ok(None));
    }
    assert_eq!(port.line_mut().depart(), None);
    port.open(START);
    assert_eq!(port.service(START), Ok(None));
    assert_eq!(port.line_mut().depart(), Some(0));
}

#[test]
fn each_class_arrives_with_the_stamp_of_its_octets() {
    let (mut desk, mut dome) = pair();
    let mut now = START;
    let _ = run(&mut desk, &mut dome, &mut now, 100);
    assert_eq!((desk.state(), dome.state()), (State::Up, State::Up));
    let sent = now;
    for (number, class) in
        [Class::SetPoint, Class::Errand, Class::Report, Class::Notice].into_iter().enumerate()
    {
        let _ = desk.send(now, class, &[7, u8::try_from(number).unwrap()]).unwrap();
    }
    // What arrives together waits together; the stamp is that of the arrival, however late it is read.
    assert_eq!(drain(&mut desk, now), []);
    carry(&mut desk, &mut dome, after(sent, Duration::from_millis(3)));
    let told = drain(&mut dome, after(sent, Duration::from_millis(70)));
    let arrived = after(sent, Duration::from_millis(3));
    assert!(told.contains(&Told::Message(Class::SetPoint, 0, arrived)), "{told:?}");
    now = after(sent, Duration::from_millis(70));
    let (outcomes, rest) = run(&mut desk, &mut dome, &mut now, 200);
    let classes = |told: &[Told]| told.iter().filter(|told| matches!(told, Told::Message(..))).count();
    assert_eq!(classes(&told) + classes(&rest), 4);
    assert_eq!(outcomes, [Told::Outcome(Outcome::Delivered), Told::Outcome(Outcome::Delivered)]);
}

/// A memory line whose sending side takes nothing while it is stuck.
#[derive(Debug, Clone)]
struct Stuck {
    memory: Memory<256>,
    stuck: bool,
}

impl Line for Stuck {
    type Error = &'static str;

    fn take(&mut self, now: Instant, into: &mut [u8]) -> Result<Taken, Self::Error> {
        self.memory.take(now, into).map_err(|never| match never {})
    }

    fn put(&mut self, octets: &[u8]) -> Result<usize, Self::Error> {
        if self.stuck { Ok(0) } else { self.memory.put(octets).map_err(|never| match never {}) }
    }
}

#[test]
fn behind_a_line_that_is_stuck_at_most_one_set_point_grows_old() {
    let mut desk = board(Stuck { memory: Memory::new(), stuck: false }, 1);
    let mut dome = board(Memory::<256>::new(), 0x4000_0001);
    let mut now = START;
    let mut told = vec![];
    for step in 0..400_u16 {
        desk.line_mut().stuck = (200..300).contains(&step);
        if step >= 190 {
            let _ = desk.send(now, Class::SetPoint, &[0, u8::try_from(step - 190).unwrap()]);
        }
        let _ = drain(&mut desk, now);
        told.extend(drain(&mut dome, now));
        now = after(now, Duration::from_millis(1));
        while let Some(octet) = desk.line_mut().memory.depart() {
            dome.line_mut().arrive(now, &[octet]).unwrap();
        }
        while let Some(octet) = dome.line_mut().depart() {
            desk.line_mut().memory.arrive(now, &[octet]).unwrap();
        }
    }
    let values: Vec<u8> = told
        .iter()
        .filter_map(|told| match told {
            Told::Message(Class::SetPoint, value, _) => Some(*value),
            _ => None,
        })
        .collect();
    assert!(values.is_sorted(), "{values:?}");
    // Values 10..=109 were set while the line was stuck; one frame was encoded already, the newest waited in the link.
    let old = values.iter().filter(|value| (10..109).contains(*value)).count();
    assert!(old <= 1, "{values:?}");
    assert!(values.contains(&109) || values.contains(&110), "{values:?}");
}

#[test]
fn a_port_whose_line_has_no_room_does_not_ask_to_be_served_at_once() {
    let mut port = board(Stuck { memory: Memory::new(), stuck: true }, 1);
    assert_eq!(port.poll_wake(), Wake { when: When::Now, reason: WakeReason::Transmit });
    assert_eq!(port.service(START), Ok(None));
    assert!(matches!(
        port.poll_wake(),
        Wake { when: When::At(_) | When::Idle, reason: WakeReason::Transmit }
    ));
    port.line_mut().memory.arrive(START, b"hello\r\n\0more\0").unwrap();
    assert!(matches!(port.service(START), Ok(Some(Event::Text(_)))));
    assert_eq!(port.poll_wake().when, When::Now, "octets wait in the port");
}

/// A line that has octets without end.
struct Flood {
    taken: usize,
    /// The first of each pair; the other is zero.
    octet: u8,
}

impl Line for Flood {
    type Error = ();

    fn take(&mut self, now: Instant, into: &mut [u8]) -> Result<Taken, ()> {
        into.fill(0);
        into.iter_mut().step_by(2).for_each(|cell| *cell = self.octet);
        self.taken += into.len();
        Ok(Taken { octets: into.len(), arrived: now })
    }

    fn put(&mut self, octets: &[u8]) -> Result<usize, ()> {
        Ok(octets.len())
    }
}

#[test]
fn a_flood_of_silence_does_not_hold_the_caller() {
    let mut port = board(Flood { taken: 0, octet: 0 }, 1);
    assert_eq!(port.service(START), Ok(None));
    assert_eq!(port.line().taken, BURST);
}

#[test]
fn a_flood_of_text_or_of_rubbish_does_not_hold_the_caller() {
    for octet in [b'a', 0x02, 0xFF] {
        let mut port = board(Flood { taken: 0, octet }, 1);
        for round in 1..=3 {
            let events = core::iter::from_fn(|| port.service(START).unwrap().map(|_| ())).take(BURST);
            assert_eq!(events.count(), BURST / 2, "{octet:02X}, round {round}");
            assert_eq!(port.line().taken, round * BURST);
        }
        assert!(
            port.statistics().get(crate::stats::Counter::FramesSent) > 0,
            "it is heard in spite of the flood"
        );
    }
}

/// A memory line that fails at every third call.
#[derive(Debug, Clone, Default)]
struct Flaky {
    memory: Memory<256>,
    calls: u32,
}

impl Flaky {
    fn fails(&mut self) -> Result<(), &'static str> {
        self.calls += 1;
        if self.calls.is_multiple_of(3) { Err("flaky") } else { Ok(()) }
    }
}

impl Line for Flaky {
    type Error = &'static str;

    fn take(&mut self, now: Instant, into: &mut [u8]) -> Result<Taken, Self::Error> {
        self.fails()?;
        self.memory.take(now, into).map_err(|never| match never {})
    }

    fn put(&mut self, octets: &[u8]) -> Result<usize, Self::Error> {
        self.fails()?;
        self.memory.put(octets).map_err(|never| match never {})
    }
}

#[test]
fn a_port_goes_on_after_an_error_of_its_line_and_loses_no_octet() {
    let (mut desk, mut dome) = (board(Flaky::default(), 1), board(Flaky::default(), 0x4000_0001));
    let mut now = START;
    for _ in 0..200 {
        for port in [&mut desk, &mut dome] {
            for _ in 0..20 {
                let _ = port.service(now);
            }
        }
        now = after(now, Duration::from_millis(1));
        while let Some(octet) = desk.line_mut().memory.depart() {
            dome.line_mut().memory.arrive(now, &[octet]).unwrap();
        }
        while let Some(octet) = dome.line_mut().memory.depart() {
            desk.line_mut().memory.arrive(now, &[octet]).unwrap();
        }
    }
    assert_eq!((desk.state(), dome.state()), (State::Up, State::Up));
    let refused =
        |port: &Port<Flaky>| Reject::ALL.iter().map(|&reject| port.statistics().rejects(reject)).sum::<u32>();
    assert_eq!((refused(&desk), refused(&dome)), (0, 0));
}

/// A radio in memory that is busy at every third question.
#[derive(Debug, Default)]
struct Radio {
    out: Vec<Vec<u8>>,
    coming: Vec<Vec<u8>>,
    questions: core::cell::Cell<u32>,
}

impl Datagram for Radio {
    type Error = ();

    fn send(&mut self, datagram: &[u8]) -> Result<Medium, ()> {
        self.out.push(datagram.to_vec());
        Ok(Medium::Free)
    }

    fn receive(&mut self, now: Instant, into: &mut [u8]) -> Result<Option<Received>, ()> {
        Ok((!self.coming.is_empty()).then(|| {
            let datagram = self.coming.remove(0);
            into.iter_mut().zip(&datagram).for_each(|(cell, octet)| *cell = *octet);
            Received { octets: datagram.len(), arrived: now, strength: Some(-80) }
        }))
    }

    fn medium(&self) -> Medium {
        self.questions.set(self.questions.get() + 1);
        if self.questions.get().is_multiple_of(3) { Medium::Busy } else { Medium::Free }
    }
}

#[test]
fn a_radio_that_is_often_busy_carries_reports_to_their_outcome() {
    let config = |random| Config::datagram(1000, Duration::from_millis(50), OwnNumber::Random(random));
    let mut now = START;
    let mut radios = [1, 0x4000_0001].map(|random| Port::datagram(Radio::default(), config(random), now));
    for radio in &mut radios {
        radio.open(now);
    }
    let [mut mast, mut desk] = radios;
    let mut outcomes = 0;
    for step in 0..5000_u32 {
        if step % 1000 == 999 {
            let _ = mast.send(now, Class::Report, &[8, 1]).unwrap();
        }
        outcomes +=
            drain(&mut mast, now).iter().filter(|told| **told == Told::Outcome(Outcome::Delivered)).count();
        let _ = drain(&mut desk, now);
        now = after(now, Duration::from_millis(1));
        desk.line_mut().radio_mut().coming.append(&mut mast.line_mut().radio_mut().out);
        mast.line_mut().radio_mut().coming.append(&mut desk.line_mut().radio_mut().out);
    }
    assert_eq!(outcomes, 4);
    assert_eq!(mast.line().strength(), Some(-80));
}

#[test]
fn waiting_ends_with_the_event_or_at_the_limit() {
    let mut port = board(Memory::<256>::new(), 1);
    let time = core::cell::Cell::new(START);
    let tick = || {
        time.set(after(time.get(), Duration::from_millis(1)));
        time.get()
    };
    assert_eq!(port.serve_until(tick, Duration::from_millis(100), |_| true), Ok(Finish::LimitReached));
    assert_eq!(crate::time::elapsed(time.get(), START), Duration::from_millis(101));
    port.line_mut().arrive(time.get(), b"hello\r\n\0").unwrap();
    assert_eq!(
        port.serve_until(tick, Duration::from_millis(100), |event| matches!(
            event,
            Event::Text(b"hello\r\n")
        )),
        Ok(Finish::Done)
    );
}

#[test]
fn no_frame_outgrows_the_ports_buffer() {
    for frame in 48..=1040 {
        let payload = frame - 16;
        for len in [
            max_wire_len::<Cobs, Fcs32>(payload),
            max_wire_len::<OctetStuffing, Fcs32>(payload),
            max_wire_len::<Slip, Fcs32>(payload),
            max_wire_len::<framing::Datagram, Fcs32>(payload),
        ] {
            assert!(len <= 2 * frame, "{frame}: {len}");
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]
    /// However few octets the line takes at a time, every report arrives once and in order of sending here.
    #[test]
    fn any_cut_of_the_octets_carries_the_conversation(rooms in proptest::collection::vec(1_usize..9, 1..20)) {
        let (mut desk, mut dome) = pair();
        let mut now = START;
        let mut received = vec![];
        let mut next = 0_u8;
        for step in 0..1500_usize {
            if next < 20 && desk.send(now, Class::Errand, &[2, next]).is_ok() {
                next += 1;
            }
            let _ = drain(&mut desk, now);
            for told in drain(&mut dome, now) {
                if let Told::Message(Class::Errand, value, _) = told {
                    received.push(value);
                }
            }
            now = after(now, Duration::from_millis(1));
            let room = rooms[step % rooms.len()];
            for _ in 0..room {
                if let Some(octet) = desk.line_mut().depart() {
                    dome.line_mut().arrive(now, &[octet]).unwrap();
                }
                if let Some(octet) = dome.line_mut().depart() {
                    desk.line_mut().arrive(now, &[octet]).unwrap();
                }
            }
        }
        prop_assert_eq!(received, (0..20).collect::<Vec<u8>>());
    }
}
