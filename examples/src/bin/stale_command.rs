//! The wire is cut while a motor turns: it stops, says why, and starts again only by the full act.
//!
//! Caution: a freshness limit is a functional stop, not an emergency stop. An emergency stop is a hardware circuit that removes power.
//! Try with the motor disconnected.

use bellwire::{
    link::{Config, OwnNumber},
    port::Port,
    setpoint::{DeadMan, Stop},
    time::Duration,
};
use bellwire_examples::{
    bench::{Bench, Halt, Plan},
    messages::Message,
    short_start,
};

/// The dome of the short start once more, telling what its dead-man does.
fn dome(bench: &Bench, start: u32) -> Result<std::convert::Infallible, Halt> {
    let clock = bench.clock(1);
    let config = Config::uart(115_200, OwnNumber::Random(0x5EED_8001 + start));
    let mut port = Port::uart(bench.wire(1), config, clock.tick());
    let mut rate = DeadMan::new(0_i16, Duration::from_millis(500), Stop::Brake);
    port.open(clock.tick());
    let (mut last, mut presses) = (None, [700, 3500, 4500].into_iter().peekable());
    loop {
        while let Some(event) = port.service(clock.tick())? {
            rate.handle_typed(&event, |message| match message {
                Message::DomeRate { rate } => Some(rate),
                _ => None,
            });
        }
        if let Some(reason) = rate.check(clock.tick()) {
            bench.say(1, &format!("dome: trips: {reason}"));
        }
        if presses.next_if(|&press| clock.is_past(press)).is_some() {
            match rate.rearm(clock.tick()) {
                Ok(()) => bench.say(1, "dome: the button re-arms"),
                Err(missing) => bench.say(1, &format!("dome: the button does nothing: {missing}")),
            }
        }
        let drive = rate.output(clock.tick());
        let now = (rate.motion().name(), drive);
        if last.replace(now) != Some(now) {
            bench.say(1, &format!("dome: {}, drive {:.2} °/s", now.0, f32::from(drive) / 100.0));
        }
    }
}

fn main() {
    println!(
        "Nothing is attached. The wire is cut from 2.000 s to 3.000 s; the lever is pushed from 1 s to 4 s and from 5 s."
    );
    let bench = Bench::new(Plan { end: 6000, cut: Some((2000, 3000)), ..Plan::default() });
    let desk = |start| {
        let clock = bench.clock(0);
        short_start::desk(
            bench.wire(0),
            0x5EED_0001 + start,
            || clock.tick(),
            || clock.sleep(Duration::from_millis(100)),
            || if matches!(clock.at().as_secs(), 1..=3 | 5..) { 200 } else { 0 },
            |_event| {},
        )
    };
    bench.run(desk, |start| dome(&bench, start));
    println!(
        "It tripped half a second after the last news. The wire's return moved nothing, and neither did the button while"
    );
    println!("the lever was pushed.");
}
