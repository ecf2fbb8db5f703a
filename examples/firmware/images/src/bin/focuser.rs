//! The focuser: steps to where an errand sends it.
#![no_std]
#![no_main]

use board::{Board, bench};
use roles::Focuser;

board::start!(run);

/// 0.01 °C: the emulated machines have no thermometer.
const TEMPERATURE: i16 = 850;

fn run(mut board: Board) -> ! {
    let now = board::now();
    let mut focuser = Focuser::new(board.uart, board.own, 0, now);
    let (mut target, mut rests) = (0, true);
    loop {
        let now = board::now();
        while board.script.due(now).is_some() {}
        let lost = focuser.line().lost();
        // A stepper would be told this; an image for one feeds the watchdog here and nowhere else.
        let Ok(position) = focuser.turn(now, TEMPERATURE, lost);
        let is_there = position == focuser.target();
        if focuser.target() != target || is_there != rests {
            (target, rests) = (focuser.target(), is_there);
            bench::say(bench::line("focuser position=").count(position).word(" target=").count(target));
        }
        board::wait();
    }
}
