//! The motor turns, and something happens: it must stop, in time, and stay stopped until an operator has re-armed.

use std::time::Duration;

use bellwire::{frame::Read, link::EndReason};
use bellwire_cli::{
    endpoint::Wiring,
    observatory::{Alarm, Message, Motion},
    sim::Condition,
    talk::{Happening, codec},
};

use super::{Bed, Bench, LIMIT, check_stop, said};
use crate::emulated::{
    board::Clock,
    desk::{Desk, PERIOD, message},
    said::{Drive, MOTOR},
    wire::Side,
};

/// One instruction every 64 ns: about what such a chip does.
pub(super) const COUNTED: Clock = Clock::Counted { shift: 6 };
/// The rate that a scenario turns at, 0.01 °/s.
const RATE: i16 = 150;

/// Times on the wire of a set-point of the dome, µs: 10 octets (opening delimiter, code, control, sequence number, three octets of payload, FCS,
/// closing delimiter).
const ON_THE_WIRE: u32 = 10 * 10_000_000 / 115_200;

pub(super) fn cut(bench: &Bench) -> String {
    let bed = bench.dome(COUNTED, &[]);
    let mut desk = bed.desk();
    let stop = cut_and_mend(&bed, &mut desk);
    bench.keep("cut", &bed.wire);
    // The operator's act, and it turns again.
    desk.drive(RATE);
    let since = stop.at - stop.newest;
    let turn = stop.at - stop.before;
    let early = LIMIT / 1000 - u32::try_from(PERIOD.as_millis()).expect("short");
    format!(
        "stop {since} µs after the last set-point, its turn of the loop took {turn} µs; from the cut: at most {} ms + one turn, at least {early} ms - {ON_THE_WIRE} µs - one tick",
        LIMIT / 1000
    )
}

/// The wire is cut while the motor turns, and mended: it stops in time, says so, and stays stopped. The stop.
pub(super) fn cut_and_mend(bed: &Bed, desk: &mut Desk) -> Drive {
    desk.drive(RATE);
    bed.wire.set_both(Condition::Cut);
    let stop = bed.stop(desk);
    check_stop(stop);
    bed.wire.set_both(Condition::Whole);
    // The alarm waits on the board until somebody hears it.
    desk.until("the alarm", |it| matches!(message(it), Some(Message::DomeAlarm { reason: Alarm::NoNews })));
    still(bed, desk, Duration::from_millis(1500));
    stop
}

/// With the desk sending its old rate, the motor does not turn again.
fn still(bed: &Bed, desk: &mut Desk, span: Duration) {
    let before = bed.drives().len();
    desk.steer(Some(RATE));
    desk.serve(span);
    let later = bed.drives().split_off(before);
    assert!(later.iter().all(|drive| drive.outputs & MOTOR == 0), "it turns again by itself: {later:?}");
}

pub(super) fn duplicates(bench: &Bench) -> String {
    let bed = bench.dome(COUNTED, &[]);
    let mut desk = bed.desk();
    desk.drive(RATE);
    let sent: Vec<u8> =
        bed.wire.passed().into_iter().filter(|it| it.from == Side::Two).flat_map(|it| it.octets).collect();
    let rearm = last_frame(&sent, &Message::ReArm.payload());
    // No set-point any more; the link stays up, and copies of an errand keep coming. (A copied set-point is none on an ordered link: W-44.)
    desk.steer(None);
    let copy = |desk: &mut Desk| {
        bed.wire.put(Side::Two, &rearm);
        desk.serve(PERIOD);
    };
    let mut copies = 10;
    let stopped = || bed.drives().last().copied().filter(|drive| drive.rate == 0);
    let stop = loop {
        copy(&mut desk);
        copies += 1;
        assert!(copies < 100, "copies keep the motor running: {:?}", bed.drives().last());
        if let Some(stop) = stopped() {
            break stop;
        }
    };
    check_stop(stop);
    // At the stop value one re-arming would do: the copies of the old one are none.
    desk.steer(Some(0));
    desk.until_motion(Motion::ReArm);
    (0..10).for_each(|_| copy(&mut desk));
    still(&bed, &mut desk, Duration::from_millis(500));
    format!(
        "stop {} µs after the last set-point; {copies} copies of the re-arm errand neither fed nor re-armed it",
        stop.at - stop.newest
    )
}

/// The last frame with this payload, with both delimiters.
fn last_frame(sent: &[u8], wanted: &[u8]) -> Vec<u8> {
    let mut codec = codec(Wiring::default());
    let mut is_it = |frame: &Vec<u8>| {
        let mut found = false;
        codec.read(frame, &mut |read| found |= matches!(read, Read::Frame(view) if view.payload == wanted));
        found
    };
    let frames = sent.split(|&octet| octet == 0).map(|piece| [&[0], piece, &[0]].concat());
    frames.filter(|frame| is_it(frame)).last().expect("it was sent")
}

pub(super) fn queue(bench: &Bench) -> String {
    let bed = bench.dome(COUNTED, &[]);
    let mut desk = bed.desk();
    desk.drive(RATE);
    bed.wire.hold(Side::Two);
    let stop = bed.stop(&mut desk);
    check_stop(stop);
    desk.serve(Duration::from_millis(2500));
    let octets = bed.wire.release(Side::Two);
    still(&bed, &mut desk, Duration::from_millis(1500));
    format!(
        "{octets} octets of old set-points came at once and moved nothing; the stop came {} µs after the last that was new",
        stop.at - stop.newest
    )
}

pub(super) fn stall(bench: &Bench) -> String {
    let bed = bench.dome(Clock::Wall, &["stall@4000:3000"]);
    let mut desk = bed.desk();
    desk.drive(RATE);
    desk.serve_until("the stall", || said::first(&bed.board.said(), "goes on").is_some());
    let stop = bed.stop(&mut desk);
    let said = bed.board.said();
    let (from, _) = said::first(&said, "stall").expect("it stalled");
    let (goes_on, _) = said::first(&said, "goes on").expect("just seen");
    assert!(
        said::drives(&said).iter().any(|it| it.rate != 0 && it.at <= from),
        "it did not turn before:\n{said}"
    );
    let later: Vec<_> = said::drives(&said).into_iter().filter(|it| it.at >= goes_on).collect();
    assert!(later.iter().all(|it| it.outputs & MOTOR == 0), "old set-points drive it: {later:?}");
    assert!(stop.at <= goes_on + 20_000, "{stop:?} although the loop goes on since {goes_on}");
    let lost = said::last(&said, "overrun", "lost").expect("the board counts what it lost");
    let told = |it: &Happening| matches!(message(it), Some(Message::LogLine { text }) if text.starts_with("overrun"));
    if !desk.heard.iter().any(told) {
        desk.until("word of the overrun", told);
    }
    still(&bed, &mut desk, Duration::from_millis(1000));
    format!(
        "{lost} octets lost, counted and told; stopped {} µs after the loop went on, newest set-point {} ms old. While the loop stands only a watchdog stops the motor",
        stop.at.saturating_sub(goes_on),
        (goes_on - stop.newest) / 1000
    )
}

pub(super) fn backlog(bench: &Bench) -> String {
    let bed = bench.dome(Clock::Wall, &["stall@4000:400"]);
    let mut desk = bed.desk();
    desk.drive(RATE);
    desk.serve_until("the stall", || said::first(&bed.board.said(), "stall").is_some());
    // Some more set-points, which wait until the loop goes on; and then none.
    desk.serve(PERIOD * 2);
    desk.steer(None);
    let stop = bed.stop(&mut desk);
    check_stop(stop);
    let said = bed.board.said();
    let (goes_on, _) = said::first(&said, "goes on").expect("it went on before it stopped");
    let age = goes_on.saturating_sub(stop.newest) / 1000;
    assert!(age > 0, "{stop:?}: stamped when the loop went on at {goes_on}, not when it came");
    format!(
        "the newest set-point had waited for {age} ms when it was taken, and the stop came {} µs after its arrival",
        stop.at - stop.newest
    )
}

pub(super) fn reset(bench: &Bench) -> String {
    let mut bed = bench.dome(COUNTED, &[]);
    let mut desk = bed.desk();
    desk.drive(RATE);
    let before = bed.drives().len();
    bed.board.reset().expect("the emulator resets it");
    let ended = desk.until("the end of the session", |it| matches!(it, Happening::Ended(_)));
    assert!(matches!(ended, Happening::Ended(EndReason::PeerRestarted(_))), "{ended:?}");
    desk.until("a new session", |it| matches!(it, Happening::Opened(_)));
    still(&bed, &mut desk, Duration::from_millis(1000));
    // The stop value alone does not arm it either.
    desk.steer(Some(0));
    desk.until_motion(Motion::ReArm);
    still(&bed, &mut desk, Duration::from_millis(1000));
    let drives = bed.drives().split_off(before);
    assert_eq!(drives.first().map(|it| it.outputs), Some(0), "outputs after the reset: {drives:?}");
    desk.drive(RATE);
    "the restart is seen, old and new set-points move nothing, an operator's re-arming does".to_owned()
}

pub(super) fn new_desk(bench: &Bench) -> String {
    let bed = bench.dome(COUNTED, &[]);
    let mut first = bed.desk();
    first.drive(RATE);
    drop(first);
    let mut desk = bed.desk();
    let stop = bed.stop(&mut desk);
    assert_eq!(stop.outputs & MOTOR, 0, "{stop:?}: the motor's driver is on");
    // The lever let go, which is half of what it takes, and pushed again: the operator has not re-armed.
    desk.steer(Some(0));
    desk.serve(Duration::from_millis(500));
    still(&bed, &mut desk, Duration::from_millis(1000));
    desk.drive(RATE);
    format!(
        "stop {} ms after the last set-point of the first desk; set-points of the second move nothing before its operator re-arms",
        stop.at.saturating_sub(stop.newest) / 1000
    )
}

pub(super) fn panics(bench: &Bench) -> String {
    let bed = bench.dome(Clock::Wall, &["panic@4000"]);
    let mut desk = bed.desk();
    desk.drive(RATE);
    desk.serve_until("the panic", || said::first(&bed.board.said(), "panic").is_some());
    let said = bed.board.said();
    assert!(
        said::drives(&said).last().is_some_and(|it| it.outputs & MOTOR != 0),
        "it did not turn before:\n{said}"
    );
    let (_, rest) = said::first(&said, "panic").expect("just seen");
    assert_eq!(rest, " outputs=0", "outputs stay on after a panic");
    "the motor turned, and the outputs read back 0 after it".to_owned()
}
