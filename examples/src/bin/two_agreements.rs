//! Boards that do not mean the same by a number: the link does not open, both sides learn why, and the dome stays held.
//!
//! Caution: this protects from a forgotten update, not from somebody who wants to do harm.

use bellwire::{
    io::Memory,
    link::{Config, OwnNumber, State},
    port::Port,
    setpoint::{DeadMan, Stop},
    time::{Duration, Instant, after},
};
use bellwire_examples::bench::show;

fn main() {
    println!(
        "Nothing is attached: a desk with last year's agreement and a dome with this year's, in memory."
    );
    let mut now = Instant::from_ticks(0);
    let board = |random, fingerprint| {
        let config = Config { fingerprint, ..Config::uart(115_200, OwnNumber::Random(random)) };
        let mut port = Port::uart(Memory::<512>::new(), config, now);
        port.open(now);
        port
    };
    let (mut desk, mut dome) = (board(0x5EED_0001, 0x2025_0A11), board(0x5EED_8001, 0x2026_0B07));
    let mut rate = DeadMan::new(0_i16, Duration::from_millis(500), Stop::Brake);
    for _ in 0..3000 {
        now = after(now, Duration::from_millis(1));
        while let Some(octet) = desk.line_mut().depart() {
            let _ = dome.line_mut().arrive(now, &[octet]);
        }
        while let Some(octet) = dome.line_mut().depart() {
            let _ = desk.line_mut().arrive(now, &[octet]);
        }
        while let Ok(Some(event)) = desk.service(now) {
            show::event(&event, |words| println!("desk: {words}"));
        }
        while let Ok(Some(event)) = dome.service(now) {
            rate.handle_event(&event);
            show::event(&event, |words| println!("dome: {words}"));
        }
    }
    println!("the link is {}", if desk.state() == State::Down { "down" } else { "up" });
    println!("the motor is {}", rate.motion().name());
    match rate.rearm(now) {
        Ok(()) => println!("the button re-arms"),
        Err(missing) => println!("the button does nothing: {missing}"),
    }
}
