//! A star under 20 % loss with restarts of any board, and its books as a row of a table.
//!
//! ```text
//! star [LEAVES] [REPORTS] [radio|wire] [SLEEPERS]
//! ```
//!
//! LEAVES (250 if not given) that report REPORTS times (1 000 000) in all; the last SLEEPERS of them (half) sleep deeply between their reports. `BELLWIRE_SEED` as in the tests. It ends with 1 if a promise was broken, and says
//! which.

use bellwire_tests::star::{Make, Medium, Sum, run, setup};
use std::{
    process::ExitCode,
    sync::Arc,
    time::{Duration, Instant},
};

fn table(make: &Make, sum: &Sum, took: u64) {
    let Sum {
        reports,
        hub,
        letters,
        frames,
        lost,
        strayed,
        restarts,
        naps,
        sessions,
        most,
        refused,
        seconds,
    } = sum;
    println!("| what | count |\n|---|---|");
    let row = |what: &str, count: String| println!("| {what} | {count} |");
    row("leaves; of these sleep; medium", format!("{}; {}; {:?}", make.leaves, make.sleepers, make.medium));
    row("frames; lost; doubled or late", format!("{frames}; {lost}; {strayed}"));
    row("restarts of leaves; of the hub; sessions", format!("{}; {}; {sessions}", restarts[0], restarts[1]));
    row("times a sleeper went on in its session from 16 octets", naps.to_string());
    row("reports accepted", reports.accepted.to_string());
    row(
        "= delivered + unknown (of these arrived) + not sent + lost with the leaf",
        format!(
            "{} + {} ({}) + {} + {}",
            reports.delivered, reports.unknown, reports.unknown_arrived, reports.not_sent, reports.lost
        ),
    );
    row("reports arrived, each once", reports.arrived.to_string());
    row("letters of the desk; refused by a full mailbox", format!("{}; {}", letters.pushed, letters.full));
    row(
        "= confirmed + set-points sent + unknown + expired + replaced + lost with the hub",
        format!(
            "{} + {} + {} + {} + {} + {}",
            letters.confirmed, letters.sent, letters.unknown, letters.expired, letters.replaced, letters.lost
        ),
    );
    row(
        "messages that the hub took; of these arrived, each once",
        format!("{}; {}", hub.accepted, hub.arrived),
    );
    row(
        "at most in the hub's pool; of one leaf; in one mailbox; refused by a full pool",
        format!("{}; {}; {}; {refused}", most[0], most[1], letters.most),
    );
    row("virtual time; time of one core", format!("{seconds} s; {took} s"));
}

fn main() -> ExitCode {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let number = |place: usize, otherwise: u64| {
        args.get(place).map_or(otherwise, |text| text.parse().expect("a number"))
    };
    let leaves = number(0, 250);
    let medium = match args.get(2).map_or("radio", String::as_str) {
        "radio" => Medium::Radio,
        "wire" => Medium::Wire,
        other => panic!("'{other}': radio or wire"),
    };
    let seed = bellwire_tests::seed("star");
    let make = Make {
        medium,
        leaves: u8::try_from(leaves).expect("1 to 250 leaves"),
        naps: Arc::default(),
        sleepers: u8::try_from(number(3, leaves / 2)).expect("0 to 250 leaves"),
        reports: number(1, 1_000_000).div_ceil(leaves),
        pause: Duration::from_millis(100),
        letters: Duration::from_millis(1),
        restarts: [5, 20],
        setup: setup(medium),
        seed: seed.value(),
    };
    println!("seed {:#018x}\n", seed.value());
    let start = Instant::now();
    match run(&make) {
        Ok(sum) => {
            table(&make, &sum, start.elapsed().as_secs());
            ExitCode::SUCCESS
        }
        Err(words) => {
            eprintln!("{words}");
            ExitCode::FAILURE
        }
    }
}
