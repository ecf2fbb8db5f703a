//! What a line does to a conversation.

use std::time::Duration;

use bellwire::link::Outcome;
use bellwire_cli::{
    observatory::{Message, Motion, ShutterMove},
    sim::{Faults, Setup},
    talk::Happening,
};

use super::{BAUD, Bed, Bench, OPEN, said};
use crate::emulated::{
    board::Clock,
    desk::{Desk, message},
    wire,
    wire::Side,
};

/// The shutter closes.
const CLOSE: u32 = 1 << 3;

/// On the clock of the host: counted instructions would not make it repeat, for what the desk sends comes when this computer sends it (the counted one of the scenario
/// `m3` carried 904 octets to the board once and 917 the next time).
pub(super) fn conversation(bench: &Bench) -> String {
    let bed = bench.dome(Clock::Wall, &[]);
    talk(&bed, &mut bed.desk())
}

/// A conversation with a dome on a good wire, which refuses nothing.
pub(super) fn talk(bed: &Bed, desk: &mut Desk) -> String {
    desk.until_motion(Motion::Held);
    assert_eq!(desk.errand(&Message::Shutter { action: ShutterMove::Open }), Outcome::Delivered);
    desk.until("an open shutter", |it| matches!(message(it), Some(Message::DomeState { shutter: 1.., .. })));
    // Refused in words, because nothing was steered: delivered all the same.
    assert_eq!(desk.errand(&Message::ReArm), Outcome::Delivered);
    desk.until(
        "a refusal",
        |it| matches!(message(it), Some(Message::LogLine { text }) if text.starts_with("not re-armed")),
    );
    desk.drive(-200);
    desk.steer(Some(0));
    desk.until("rest", |it| {
        matches!(message(it), Some(Message::DomeState { rate: 0, motion: Motion::Running, .. }))
    });
    assert_eq!(desk.errand(&Message::DomeGoto { azimuth: 18_000 }), Outcome::Delivered);
    desk.until("the way back", |it| {
        matches!(message(it), Some(Message::DomeState { azimuth: 18_000, rate: 0, .. }))
    });
    let counted = [Side::One, Side::Two].map(|side| bed.wire.counted(side));
    assert!(counted.iter().all(|it| it.is_clean()), "{counted:?}");
    let refused = desk.heard.iter().filter(|it| matches!(it, Happening::Refused(_))).count();
    assert_eq!(refused, 0, "a frame was refused on a good wire");
    format!("{} octets to the board, {} back, none refused", counted[1].octets, counted[0].octets)
}

pub(super) fn boot_text(bench: &Bench) -> String {
    const BOOT: &[u8] = b"\r\nROM 1.2  reset 0x04\r\nloading 0x20000\r\n";
    // To the desk, before the board's first frame.
    let bed = bench.dome(Clock::Wall, &[]);
    bed.wire.put(Side::One, BOOT);
    let mut desk = bed.desk();
    desk.until_motion(Motion::Held);
    let text: Vec<u8> = desk
        .heard
        .iter()
        .filter_map(|it| if let Happening::Text(text) = it { Some(text.clone()) } else { None })
        .flatten()
        .collect();
    assert_eq!(text, BOOT, "{}", text.escape_ascii());
    drop((desk, bed));
    // To a board that listens, before the desk's first frame and between two.
    let bed = bench.lay("listener", Clock::Wall, &[], &wire::uart(BAUD));
    let probe =
        |number: u8| crate::line::encode(COBS, bellwire::framing::Lead::Delimiter, &[0x40, number, 9, 40]);
    bed.wire.put(Side::Two, BOOT);
    bed.wire.put(Side::Two, &probe(1));
    bed.wire.put(Side::Two, BOOT);
    bed.wire.put(Side::Two, &probe(2));
    let expected = format!("frames=2 refused=0 text={} lost=0", 2 * BOOT.len());
    let said = bed.board.says(&expected);
    assert!(!said.contains("refused=1"), "{said}");
    format!("the desk has the {} octets of text as they were sent; the listener {expected}", BOOT.len())
}

const COBS: crate::vector::Line =
    crate::vector::Line { framing: crate::vector::FramingName::Cobs, fcs: 16, map: 0, buffer: 0 };

pub(super) fn bit_errors(bench: &Bench) -> String {
    // One bit of an octet is turned over with the odds that at least one of its eight is.
    let flip = 1.0 - (1.0_f64 - 1e-3).powi(8);
    let setup: Setup = wire::uart(BAUD).with(Faults { flip, ..Faults::NONE });
    let bed = bench.lay("dome", Clock::Wall, &[], &setup);
    let mut desk = bed.desk();
    desk.steer(Some(0));
    let mut errands = Vec::new();
    for number in 0..60 {
        let (action, pins) = if number % 2 == 0 { (ShutterMove::Open, OPEN) } else { (ShutterMove::Stop, 0) };
        errands.push((pins, desk.errand(&Message::Shutter { action })));
    }
    let delivered = errands.iter().filter(|(_, outcome)| *outcome == Outcome::Delivered).count();
    desk.serve(Duration::from_millis(200));
    let seen: Vec<u32> = bed.drives().iter().map(|it| it.outputs & (OPEN | CLOSE)).skip(1).collect();
    assert!(comes_of(&seen, 0, &errands), "{seen:?} does not come of {errands:?} done once and in order");
    assert!(delivered >= 50, "{errands:?}: hardly anything passes");
    assert!(bed.drives().iter().all(|it| it.outputs & said::MOTOR == 0), "noise turned the motor");
    let refused = desk.heard.iter().filter(|it| matches!(it, Happening::Refused(_))).count();
    let resent = desk.heard.iter().filter(|it| matches!(it, Happening::Resent { .. })).count();
    let counted = [Side::One, Side::Two].map(|side| bed.wire.counted(side));
    assert!(counted.iter().all(|it| it.flipped > 0) && refused > 0 && resent > 0, "the wire was too good");
    format!(
        "{} of {} octets with a bit turned over; {delivered} of 60 errands delivered, done once and in order, and {} of unknown outcome; {resent} resent, {refused} frames refused at the desk",
        counted[0].flipped + counted[1].flipped,
        counted[0].octets + counted[1].octets,
        errands.len() - delivered
    )
}

/// Whether these changes of the pins are what comes of the errands in their order, from `pins` on: each delivered one done once, each of unknown outcome done once or
/// not at all. An errand that wants the pins as they are changes nothing.
fn comes_of(seen: &[u32], pins: u32, errands: &[(u32, Outcome)]) -> bool {
    let Some((&(wanted, outcome), later)) = errands.split_first() else { return seen.is_empty() };
    let done = if wanted == pins {
        comes_of(seen, pins, later)
    } else {
        seen.split_first().is_some_and(|(&first, rest)| first == wanted && comes_of(rest, wanted, later))
    };
    done || (outcome == Outcome::Unknown && comes_of(seen, pins, later))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_unknown_errand_may_be_done_or_not_and_a_delivered_one_is_done_once() {
        let all = [(OPEN, Outcome::Delivered), (0, Outcome::Unknown), (OPEN, Outcome::Delivered)];
        assert!(comes_of(&[OPEN], 0, &all) && comes_of(&[OPEN, 0, OPEN], 0, &all));
        for wrong in [&[][..], &[OPEN, 0], &[0, OPEN], &[OPEN, OPEN], &[OPEN, 0, OPEN, 0]] {
            assert!(!comes_of(wrong, 0, &all), "{wrong:?}");
        }
        assert!(!comes_of(&[OPEN], 0, &[(OPEN, Outcome::Delivered), (0, Outcome::Delivered)]));
    }
}
