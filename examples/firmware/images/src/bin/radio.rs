//! The radio at the desk: first UART to the desk, second UART to the radio chip.
#![no_std]
#![no_main]

use board::{Board, bench};
use parts::Chip;
use roles::{Carried, Radio};

board::start!(run);

fn run(mut board: Board) -> ! {
    let now = board::now();
    let mut radio = Radio::new(board.uart, Chip::new(board.second), board.own, now);
    let mut told = Carried::default();
    loop {
        let now = board::now();
        while board.script.due(now).is_some() {}
        let Ok(carried) = radio.turn(now);
        if carried != told {
            let line = bench::line("carried heard=").count(carried.heard).word(" sent=").count(carried.sent);
            bench::say(line.word(" dropped=").count(carried.dropped));
            told = carried;
        }
        board::wait();
    }
}
