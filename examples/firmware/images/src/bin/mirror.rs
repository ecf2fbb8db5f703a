//! A role in front of a mirror: plays a recording that comes over the UART, step by step, and answers what the role makes of it.
//!
//! The first octet says which role: `d` the dome, `f` the focuser. It drives nothing: its outputs stay off.
#![no_std]
#![no_main]

use bellwire::io::Line;
use board::{Board, Channel, Uart};
use roles::{
    Dome, Focuser, Mechanics,
    mirror::{HEAD, Mirror, Reflected, Step},
};

board::start!(run);

/// Stands for the UART of the role; the board's own UART carries the recording.
static CHANNEL: Channel = Channel::new();

fn run(mut board: Board) -> ! {
    match next(&mut board.uart) {
        b'd' => reflect::<(Dome<Uart>, Mechanics)>(&mut board.uart),
        _ => reflect::<Focuser<Uart>>(&mut board.uart),
    }
}

fn reflect<R: Reflected>(uart: &mut Uart) -> ! {
    let mut mirror = Mirror::<R>::new(&CHANNEL, board::now(), 0);
    loop {
        let mut head = [0; HEAD];
        head.fill_with(|| next(uart));
        let Some((now, step)) = Step::read(head) else { continue };
        match step {
            Step::Restart(own) => {
                mirror = Mirror::new(&CHANNEL, now, own);
                send(uart, 0);
            }
            Step::Arrive(count) => {
                (0..count).for_each(|_| mirror.arrive(now, next(uart)));
                send(uart, 0);
            }
            Step::Turn { rain, leave } => {
                let outputs = mirror.turn(now, rain);
                let count = leave.min(mirror.waiting().to_le_bytes()[0]);
                send(uart, count);
                (0..count).filter_map(|_| mirror.depart()).for_each(|octet| send(uart, octet));
                outputs.into_iter().for_each(|octet| send(uart, octet));
            }
        }
    }
}

/// Waits for an octet of the recording.
fn next(uart: &mut Uart) -> u8 {
    loop {
        if let Some((octet, _)) = uart.take_octet() {
            return octet;
        }
    }
}

/// Sends an octet of the answer, as soon as there is room.
fn send(uart: &mut Uart, octet: u8) {
    while uart.put(&[octet]) == Ok(0) {}
}
