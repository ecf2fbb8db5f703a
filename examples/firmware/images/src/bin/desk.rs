//! The desk as a board: first UART to the dome, second to the focuser, third to the radio, and the mast behind that.
//!
//! The script plays the operator; a board of your own has a lever and keys in its place.
#![no_std]
#![no_main]

use bellwire::time::Instant;
use bellwire_examples::messages::{DomeMotion, Message, ShutterMove};
use board::{
    Board, Uart,
    bench::{self, Act},
};
use roles::{Desk, Seen, View};

board::start!(run);

fn run(mut board: Board) -> ! {
    let now = board::now();
    let mut desk = Desk::new(board.uart, board.second, board.third, board.own, now);
    let mut told = View::default();
    loop {
        let now = board::now();
        while let Some(act) = board.script.due(now) {
            obey(&mut desk, now, act);
        }
        let view = desk.turn(now);
        tell("dome ", &mut told.dome, view.dome);
        tell("focuser ", &mut told.focuser, view.focuser);
        tell("mast ", &mut told.mast, view.mast);
        board::wait();
    }
}

/// Does what the operator wants.
fn obey(desk: &mut Desk<Uart>, now: Instant, act: Act) {
    let errand = match act {
        Act::Rate(rate) => return desk.drive(i16::try_from(rate).unwrap_or(0)),
        Act::Rain(_) => return,
        Act::Rearm => Message::Rearm,
        Act::Shutter(true) => Message::Shutter(ShutterMove::Open),
        Act::Shutter(false) => Message::Shutter(ShutterMove::Close),
        Act::Goto(azimuth) => Message::DomeGoto { azimuth: u16::try_from(azimuth).unwrap_or(0) },
        Act::Focus(position) => Message::FocuserGoto { position: u32::try_from(position).unwrap_or(0) },
    };
    if desk.order(now, errand).is_err() {
        bench::say(bench::line("not sent"));
    }
}

/// Tells what is new of a board.
fn tell(board: &str, told: &mut Seen, seen: Seen) {
    if *told == seen {
        return;
    }
    let line =
        bench::line(board).word(if seen.up { "up" } else { "down" }).word(" messages=").count(seen.count);
    bench::say(match seen.last {
        Some(Message::DomeState { azimuth, rate, shutter, motion }) => line
            .word(" azimuth=")
            .count(azimuth.into())
            .word(" rate=")
            .number(rate.into())
            .word(" shutter=")
            .count(shutter.into())
            .word(motion_name(motion)),
        Some(Message::FocuserState { position, .. }) => line.word(" position=").count(position),
        Some(Message::Weather { wind, .. }) => line.word(" wind=").count(wind.into()),
        Some(Message::DomeAlarm(_)) => line.word(" alarm"),
        _ => line,
    });
    *told = seen;
}

const fn motion_name(motion: DomeMotion) -> &'static str {
    match motion {
        DomeMotion::Held => " held",
        DomeMotion::Running => " running",
        DomeMotion::Stale => " stale",
        DomeMotion::Rearm => " re-arm",
    }
}
