//! The dome: turns at a set-point while news of it is fresh, and closes its shutter when it rains.
#![no_std]
#![no_main]

use bellwire::time::Instant;
use bellwire_examples::messages::ShutterMove;
use board::{
    Board,
    bench::{self, Act},
    outputs,
};
use roles::{Dome, Drive, Mechanics};

board::start!(run);

fn run(mut board: Board) -> ! {
    let now = board::now();
    let mut dome = Dome::new(board.uart, board.own, now);
    let mut mechanics = Mechanics::new(now);
    let mut told = Told { drive: None, motion: "", lost: 0, turned: now };
    let mut rain = false;
    loop {
        while let Some(act) = board.script.due(board::now()) {
            if let Act::Rain(begins) = act {
                rain = begins;
            }
        }
        let now = board::now();
        let mut sensors = mechanics.sense(now);
        sensors.rain = rain;
        sensors.lost = dome.line().lost();
        let Ok(drive) = dome.turn(now, sensors);
        mechanics.drive(drive);
        board.outputs.set(pins(drive));
        told.tell(now, &dome, drive);
        // Feed the watchdog here and nowhere else.
        board::wait();
    }
}

/// What the outputs are for what the dome shall do.
const fn pins(drive: Drive) -> u32 {
    let motor = match drive.rate {
        0 => 0,
        1.. => outputs::MOTOR | outputs::CLOCKWISE,
        _ => outputs::MOTOR,
    };
    let shutter = match drive.shutter {
        ShutterMove::Open => outputs::OPEN,
        ShutterMove::Close => outputs::CLOSE,
        ShutterMove::Stop => 0,
    };
    motor | shutter
}

/// What was told last.
struct Told {
    drive: Option<Drive>,
    motion: &'static str,
    lost: u32,
    /// The turn before this one.
    turned: Instant,
}

impl Told {
    /// Tells what has changed: the README has the lines.
    fn tell(&mut self, now: Instant, dome: &Dome<board::Uart>, drive: Drive) {
        let (motion, lost) = (dome.motion(), dome.line().lost());
        if self.motion != motion.name() {
            let why = motion.reason().map_or("", |reason| reason.words());
            bench::say(bench::line("motion ").word(motion.name()).word(" ").word(why));
            self.motion = motion.name();
        }
        if self.drive != Some(drive) {
            let newest = dome.newest().map_or(0, |at| at.as_ticks());
            let line = bench::line("drive rate=").number(drive.rate.into());
            let line = line.word(" outputs=").count(outputs::read()).word(" newest=").count(newest);
            bench::say(line.word(" before=").count(self.turned.as_ticks()));
            self.drive = Some(drive);
        }
        if self.lost != lost {
            bench::say(bench::line("overrun lost=").count(lost));
            self.lost = lost;
        }
        self.turned = now;
    }
}
