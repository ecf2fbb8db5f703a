//! The clock of a board: time goes on while nobody counts it.

use super::{Bench, said};
use crate::emulated::board::{Clock, Machine, Start};

pub(super) fn deaf(bench: &Bench) -> String {
    let image = bench.images.join("../../thumbv7m-none-eabi/release/desk");
    let start = Start {
        name: "desk",
        machine: Machine::Lm3s,
        image: &image,
        uarts: 1,
        clock: Clock::Counted { shift: 6 },
        script: &["deaf@500:300", "end@1500"],
    };
    let (mut board, _ends) = start.run(&bench.folder).expect("the emulator starts");
    assert!(board.ends().success(), "{}", board.said());
    let said = board.said();
    let [from, to] =
        ["deaf", "hears"].map(|words| said::first(&said, words).unwrap_or_else(|| panic!("{said}")).0);
    let took = to - from;
    assert!((300_000..=302_000).contains(&took), "300 ms without an interrupt count as {took} µs:\n{said}");
    format!("300 ms without an interrupt count as {took} µs")
}
