//! The focuser once more, as one future on an async driver: the role is the same, and the loop waits for octets or for the next step.
#![no_std]
#![no_main]

use core::{convert::Infallible, future::poll_fn, task::Poll};

use bellwire::{
    io::embedded_io_async_07::Pumped,
    time::{Duration, Instant, elapsed},
};
use board::{Board, bench};
use parts::block_on;
use roles::Focuser;

board::start!(run);

/// 0.01 °C: the emulated machines have no thermometer.
const TEMPERATURE: i16 = 850;
/// A step of the stepper at the soonest.
const PAUSE: Duration = Duration::from_millis(1);

fn run(board: Board) -> ! {
    let Err(never) = block_on(focus(board), board::wait);
    match never {}
}

async fn focus(mut board: Board) -> Result<Infallible, Infallible> {
    let (receiver, sender, channel) = board.uart.split();
    let line = Pumped::<_, _, 128>::new(receiver, sender);
    let mut focuser = Focuser::new(line, board.own, 0, board::now());
    let (mut target, mut rests) = (0, true);
    loop {
        let now = board::now();
        while board.script.due(now).is_some() {}
        // A stepper would be told this; an image for one feeds the watchdog here and nowhere else.
        let position = focuser.turn(now, TEMPERATURE, channel.lost())?;
        let is_there = position == focuser.target();
        if focuser.target() != target || is_there != rests {
            (target, rests) = (focuser.target(), is_there);
            bench::say(bench::line("focuser position=").count(position).word(" target=").count(target));
        }
        focuser.line_mut().pump_or(board::now, sleep(now)).await?;
    }
}

/// Waits until the pause since `start` is over.
async fn sleep(start: Instant) {
    poll_fn(|_| if elapsed(board::now(), start) >= PAUSE { Poll::Ready(()) } else { Poll::Pending }).await;
}
