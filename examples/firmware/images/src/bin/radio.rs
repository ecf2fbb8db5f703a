//! The radio at the desk, which carries datagrams with their strength and time: first UART to the desk, second UART to the radio chip.
#![no_std]
#![no_main]

use bellwire::radio::Carried;
use board::{Board, bench};
use parts::Chip;
use roles::Radio;

board::start!(run);

fn run(mut board: Board) -> ! {
    let mut radio: Radio<_, _> = Radio::new(board.uart, Chip::new(board.second));
    let mut told = Carried::default();
    loop {
        let now = board::now();
        while board.script.due(now).is_some() {}
        let Ok(carried) = radio.turn(now);
        if carried != told {
            let line = bench::line("carried heard=").count(carried.heard).word(" sent=").count(carried.sent);
            bench::say(
                line.word(" not-sent=").count(carried.not_sent).word(" refused=").count(carried.refused),
            );
            told = carried;
        }
        board::wait();
    }
}
