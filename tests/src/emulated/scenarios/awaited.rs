//! A role as a future on an async driver.

use bellwire::link::Outcome;
use bellwire_cli::observatory::Message;

use super::{BAUD, Bench, said};
use crate::emulated::{board::Clock, desk::message, wire};

pub(super) fn focuser(bench: &Bench) -> String {
    const WAY: u32 = 400;
    let bed = bench.lay("focuser_async", Clock::Counted { shift: 6 }, &[], &wire::uart(BAUD));
    let mut desk = bed.desk();
    assert_eq!(desk.errand(&Message::FocuserGoto { position: WAY }), Outcome::Delivered);
    desk.until("a report from there", |it| {
        matches!(message(it), Some(Message::FocuserState { position: WAY, .. }))
    });
    let said = bed.board.says("focuser position=400 target=400");
    let (begins, rest) = said::first(&said, "focuser position=").expect("it set off");
    let (arrives, _) = said::first(&said, "focuser position=400 target=400").expect("just seen");
    let made: u32 = rest.split(' ').next().and_then(|it| it.parse().ok()).expect("a position");
    // 2 ms a step; the last one is seen at the turn of the loop that makes it.
    let (took, due) = (arrives - begins, (WAY - made) * 2_000);
    assert!((due - 2_000..=due + 2_000).contains(&took), "{WAY} steps in {took} µs:\n{said}");
    format!("{} steps in {took} µs", WAY - made)
}
