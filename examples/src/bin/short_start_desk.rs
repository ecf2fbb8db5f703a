//! The desk of the short start, with a dome at the other end of a bench wire: what the desk sees.
//!
//! Caution: on real boards this turns a motor. Guard moving parts, and try with the motor disconnected.

use bellwire::time::Duration;
use bellwire_examples::{
    bench::{Bench, Plan, show},
    short_start,
};

fn main() {
    println!("Nothing is attached: a desk and a dome on a bench in virtual time, for three seconds.");
    let bench = Bench::new(Plan { end: 3000, ..Plan::default() });
    let desk = |start| {
        let clock = bench.clock(0);
        short_start::desk(
            bench.wire(0),
            0x5EED_0001 + start,
            || clock.tick(),
            || clock.sleep(Duration::from_millis(100)),
            || if clock.is_past(1000) { 200 } else { 0 },
            |event| show::event(&event, |words| bench.say(0, &format!("desk: {words}"))),
        )
    };
    let dome = |start| {
        let clock = bench.clock(1);
        short_start::dome(
            bench.wire(1),
            0x5EED_8001 + start,
            || clock.tick(),
            || clock.is_past(500) && !clock.is_past(501),
            show::motor(|what| bench.say(1, &format!("dome: {what}"))),
        )
    };
    bench.run(desk, dome);
    println!("The lever was pushed after one second; the button was pressed after half a second.");
}
