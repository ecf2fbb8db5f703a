//! The focuser once more, as one future on an async driver: the role is the same, and the loop waits for octets or for the next step.
#![no_std]
#![no_main]

use core::{
    convert::Infallible,
    future::{Future, poll_fn},
    pin::pin,
    task::Poll,
};

use bellwire::{
    io::embedded_io_async_07::{Moved, Pumped, Round},
    time::{Duration, Instant, elapsed},
};
use board::{Board, bench};
use embedded_io_async::{Read, Write};
use parts::{Receiver, Sender, block_on};
use roles::Focuser;

board::start!(run);

/// 0.01 °C: the emulated machines have no thermometer.
const TEMPERATURE: i16 = 850;
/// A step of the stepper at the soonest.
const PAUSE: Duration = Duration::from_millis(1);

fn run(board: Board) -> ! {
    match block_on(focus(board), board::wait) {}
}

/// Never returns, and awaits nothing that is an `async fn`: those hold a panic for whoever polls them after their end.
async fn focus(mut board: Board) -> Infallible {
    let (receiver, sender, channel) = board.uart.split();
    let line = Pumped::<_, _, 128>::new(receiver, sender);
    let mut focuser = Focuser::new(line, board.own, 0, board::now());
    let (mut target, mut rests) = (0, true);
    loop {
        let now = board::now();
        while board.script.due(now).is_some() {}
        // A stepper would be told this; an image for one feeds the watchdog here and nowhere else.
        let Ok(position) = focuser.turn(now, TEMPERATURE, channel.lost());
        let is_there = position == focuser.target();
        if focuser.target() != target || is_there != rests {
            (target, rests) = (focuser.target(), is_there);
            bench::say(bench::line("focuser position=").count(position).word(" target=").count(target));
        }
        let moved = {
            let Round { receiver, room, sender, waiting } = focuser.line_mut().round();
            let (has_room, has_waiting) = (!room.is_empty(), !waiting.is_empty());
            let mut read = pin!(Receiver::read(receiver, room));
            let mut write = pin!(Sender::write(sender, waiting));
            poll_fn(|context| {
                if has_room && let Poll::Ready(Ok(octets)) = read.as_mut().poll(context) {
                    return Poll::Ready(Moved::In(octets));
                }
                if has_waiting && let Poll::Ready(Ok(octets)) = write.as_mut().poll(context) {
                    return Poll::Ready(Moved::Out(octets));
                }
                if is_over(now) { Poll::Ready(Moved::Nothing) } else { Poll::Pending }
            })
            .await
        };
        focuser.line_mut().note(moved, board::now());
    }
}

/// Whether the pause since `start` is over.
fn is_over(start: Instant) -> bool {
    elapsed(board::now(), start) >= PAUSE
}
