//! Soaks two links in the six named noises and prints a table.
//!
//! ```text
//! soak [FRAMES] [NAME]
//! ```
//!
//! FRAMES in each noise (1 000 000 if not given), or only in the noise of this NAME. `BELLWIRE_SEED` as in the tests, `BELLWIRE_THREADS` for
//! fewer threads than processors. It ends with 1 if a promise was broken, and says which and when.

use bellwire_tests::{
    seed,
    soak::{NOISES, Sum, soak},
};
use std::{process::ExitCode, time::Instant};

fn row(name: &str, sum: &Sum, seconds: u64) {
    let Sum { nights, frames, faults, restarts, slipped, balance } = *sum;
    let bellwire_cli::sim::Balance {
        accepted,
        arrived,
        delivered,
        not_sent,
        unknown,
        unknown_arrived,
        lost,
        ..
    } = balance;
    println!(
        "| {name} | {nights} | {frames} | {faults} | {restarts} | {accepted} | {arrived} | {delivered} | {unknown} ({unknown_arrived}) \
         | {not_sent} | {lost} | {slipped} | {seconds} |"
    );
}

fn main() -> ExitCode {
    let mut args = std::env::args().skip(1);
    let frames = args.next().map_or(1_000_000, |text| text.parse().expect("FRAMES: a number"));
    let name = args.next();
    let threads = bellwire_tests::threads();
    let seed = seed("soak");
    println!("seed {:#018x}; {frames} frames in each noise\n", seed.value());
    println!(
        "| noise | nights | frames | faults | restarts | accepted | arrived | delivered | unknown (of these arrived) | not sent \
         | lost with a restart | slipped | seconds |\n|---|---|---|---|---|---|---|---|---|---|---|---|---|"
    );
    for noise in NOISES.iter().filter(|noise| name.as_deref().is_none_or(|name| name == noise.name)) {
        let start = Instant::now();
        match soak(noise, frames, threads, &seed) {
            Ok(sum) => row(noise.name, &sum, start.elapsed().as_secs()),
            Err(words) => {
                eprintln!("{words}");
                return ExitCode::FAILURE;
            }
        }
    }
    ExitCode::SUCCESS
}
