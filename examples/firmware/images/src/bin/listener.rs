//! The listener: reads every frame on a line and sends nothing.
#![no_std]
#![no_main]

use board::{Board, bench};
use roles::{Heard, Listener};

board::start!(run);

fn run(mut board: Board) -> ! {
    let mut listener = Listener::new(board.uart);
    let mut told = Heard::default();
    loop {
        let now = board::now();
        while board.script.due(now).is_some() {}
        let Ok(heard) = listener.turn(now);
        if heard != told {
            let line =
                bench::line("heard frames=").count(heard.frames).word(" refused=").count(heard.refused);
            bench::say(line.word(" text=").count(heard.text).word(" lost=").count(listener.line().lost()));
            told = heard;
        }
        board::wait();
    }
}
