//! Two boards, UART to UART, and nobody else: an M3-class desk and an M0-class dome.

use std::time::{Duration, Instant};

use bellwire_cli::sim::Condition;

use super::{BAUD, Bench, check_stop, said};
use crate::emulated::{
    board::{Board, Clock, HANGS, Machine, Start},
    said::MOTOR,
    wire::{self, Side, Wire},
};

pub(super) fn two_boards(bench: &Bench) -> String {
    // A script counts the time of its own board; the wire is cut when the dome turns.
    let script = ["rearm@2000", "rate@2500:300"];
    let clock = Clock::Wall;
    let desk_image = bench.images.join("../../thumbv7m-none-eabi/release/desk");
    let dome_image = bench.images.join("dome");
    let start = |name, machine, image, script| Start { name, machine, image, uarts: 1, clock, script };
    let (desk, desk_ends) =
        start("desk", Machine::Lm3s, &desk_image, &script).run(&bench.folder).expect("the emulator starts");
    let (dome, dome_ends) =
        start("dome", Machine::Microbit, &dome_image, &[]).run(&bench.folder).expect("the emulator starts");
    let [Some(from_dome), Some(from_desk)] = [dome_ends, desk_ends].map(|ends| ends.into_iter().next())
    else {
        panic!("a UART each");
    };
    let wire = Wire::between([from_dome, from_desk], [wire::uart(BAUD), wire::uart(BAUD)], bench.seed);
    until(&dome, |said| said::drives(said).last().is_some_and(|it| it.rate == 300));
    until(&desk, |said| said.contains("rate=300") && said.contains(" running"));
    wire.set_both(Condition::Cut);
    until(&dome, |said| said::drives(said).last().is_some_and(|it| it.rate == 0));
    let stop = said::drives(&dome.said()).pop().expect("just seen");
    check_stop(stop);
    wire.set_both(Condition::Whole);
    until(&desk, |said| said.contains("alarm"));
    assert!(
        said::drives(&dome.said()).last().is_some_and(|it| it.outputs & MOTOR == 0),
        "it turns by itself"
    );
    bench.keep("two-boards", &wire);
    let counted = [Side::One, Side::Two].map(|side| wire.counted(side));
    format!(
        "{} octets from the desk, {} from the dome; stop {} µs after the last set-point; the alarm came when the wire was whole again",
        counted[1].octets,
        counted[0].octets,
        stop.at - stop.newest
    )
}

fn until(board: &Board, done: impl Fn(&str) -> bool) {
    let end = Instant::now() + HANGS;
    while !done(&board.said()) {
        assert!(Instant::now() < end, "never, but:\n{}", board.said());
        std::thread::sleep(Duration::from_millis(5));
    }
}
