//! The mast of the short start: it reports by radio, waits for the outcome and sleeps. Each fourth datagram is lost.

use std::cell::Cell;

use bellwire::{
    link::{Config, OwnNumber},
    port::Port,
    time::Duration,
};
use bellwire_examples::{
    bench::{Bench, Plan, show},
    messages::Message,
    short_start,
};

fn main() {
    println!(
        "Nothing is attached: a mast and a desk with radios in virtual time, for two minutes. Each 4th datagram is lost."
    );
    let bench = Bench::new(Plan { end: 120_000, lose_each: 4, ..Plan::default() });
    let mast = |start| {
        let clock = bench.clock(0);
        let wind = Cell::new(30);
        short_start::mast(
            bench.air(0),
            0x5EED_0001 + start,
            || {
                clock.sleep(Duration::from_millis(1));
                clock.tick()
            },
            || {
                bench.say(0, "mast: sleeps");
                clock.sleep(Duration::from_secs(20));
            },
            || {
                wind.set(wind.get() + 5);
                bench.say(0, &format!("mast: reports wind {:.1} m/s", f32::from(wind.get()) / 10.0));
                Message::Weather { wind: wind.get(), rain: false, sky: -1250, light: 3 }
            },
        )
    };
    let desk = |start| {
        let clock = bench.clock(1);
        let usual =
            Config::datagram(1000, Duration::from_millis(200), OwnNumber::Random(0x5EED_8001 + start));
        let config = Config { keep_alive: Duration::from_millis(0), ..usual };
        let mut port = Port::datagram(bench.air(1), config, clock.tick());
        port.open(clock.tick());
        loop {
            while let Some(event) = port.service(clock.tick())? {
                show::event(&event, |words| bench.say(1, &format!("desk: {words}")));
            }
            clock.sleep(Duration::from_millis(5));
        }
    };
    bench.run(mast, desk);
    println!(
        "Where a report took longer, a datagram was lost and sent again. The mast sleeps as soon as it knows the outcome."
    );
}
