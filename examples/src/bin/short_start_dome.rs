//! The dome of the short start: it turns only while news is fresh. The wire is cut for a while.
//!
//! Caution: on real boards this turns a motor. It is a functional stop and no emergency stop.

use bellwire::time::Duration;
use bellwire_examples::{
    bench::{Bench, Plan, show},
    short_start,
};

fn main() {
    println!("Nothing is attached: a dome and a desk on a bench in virtual time, for seven seconds.");
    println!("The wire is cut from 2.000 s to 3.000 s. Somebody presses the re-arm button every second.");
    let bench = Bench::new(Plan { end: 7000, cut: Some((2000, 3000)), ..Plan::default() });
    let desk = |start| {
        let clock = bench.clock(0);
        short_start::desk(
            bench.wire(0),
            0x5EED_0001 + start,
            || clock.tick(),
            || clock.sleep(Duration::from_millis(100)),
            || match clock.at().as_secs() {
                1..=3 | 6.. => 200,
                _ => 0,
            },
            |_event| {},
        )
    };
    let dome = |start| {
        let clock = bench.clock(1);
        short_start::dome(
            bench.wire(1),
            0x5EED_8001 + start,
            || clock.tick(),
            || clock.at().subsec_millis() == 500,
            show::motor(|what| bench.say(1, &format!("dome: {what}"))),
        )
    };
    bench.run(desk, dome);
    println!(
        "News stopped at 2 s, so the motor stopped half a second later. The wire was whole again at 3 s and the lever"
    );
    println!(
        "still pushed: nothing moved, not even by the button. At 4 s the lever was let go; then the button re-armed it."
    );
}
