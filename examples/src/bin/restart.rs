//! A board restarts, and the other one knows: the session ends, and what was under way is unknown, not forgotten.
//!
//! Caution: after a restart nothing moves by itself; see the lesson `stale_command`.

use bellwire::{
    frame::ResetCause,
    io::Line,
    link::{Config, OwnNumber, State},
    port::Port,
    time::Duration,
};
use bellwire_examples::{
    bench::{Bench, Clock, Halt, Plan, show},
    messages::{Message, ShutterMove},
};

/// Serves a port for a millisecond and tells its events.
fn serve<L: Line<Error = Halt>>(
    port: &mut Port<L>,
    clock: &Clock,
    mut tell: impl FnMut(&str),
) -> Result<(), Halt> {
    while let Some(event) = port.service(clock.tick())? {
        show::event(&event, &mut tell);
    }
    clock.sleep(Duration::from_millis(1));
    Ok(())
}

fn main() {
    println!(
        "Nothing is attached. The watchdog resets the dome at 1.000 s, just when the desk has sent it an errand."
    );
    let bench = Bench::new(Plan { end: 2000, resets: [None, Some(1000)], ..Plan::default() });
    let desk = |start| {
        let clock = bench.clock(0);
        let config = Config::uart(115_200, OwnNumber::Random(0x5EED_0001 + start));
        let mut port = Port::uart(bench.wire(0), config, clock.tick());
        port.open(clock.tick());
        let mut at = 500;
        loop {
            if clock.is_past(at) && port.state() == State::Up {
                let errand = Message::Shutter(if at == 500 { ShutterMove::Open } else { ShutterMove::Close });
                bench.say(0, &format!("desk: sends the errand {errand:?}"));
                let _ = port.errand(clock.tick(), &errand);
                at = if at == 500 { 999 } else { u32::MAX };
            }
            serve(&mut port, &clock, |words| bench.say(0, &format!("desk: {words}")))?;
        }
    };
    let dome = |start| {
        let clock = bench.clock(1);
        let cause = if start == 0 { ResetCause::Power } else { ResetCause::Watchdog };
        let config = Config { cause, ..Config::uart(115_200, OwnNumber::Random(0x5EED_8001 + start)) };
        let mut port = Port::uart(bench.wire(1), config, clock.tick());
        port.open(clock.tick());
        loop {
            serve(&mut port, &clock, |words| bench.say(1, &format!("dome: {words}")))?;
        }
    };
    bench.run(desk, dome);
    println!(
        "The second errand may or may not have been taken before the reset. The link says so, and does not repeat it:"
    );
    println!("to ask again is a decision for the program, which knows whether the errand may be done twice.");
}
