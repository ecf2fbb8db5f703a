//! Plays the scenarios of the emulated boards: `emulated IMAGES [NAME...]`, IMAGES being the folder of the images of the M0-class board.
//!
//! A conversation with an emulated board needs a computer that comes round in time: where it stood still for longer than the time between two set-points, what failed may be
//! its doing, and the scenario is played again, a few times at most. What fails without that has failed.
//!
//! One line a scenario; status 1 if one fails. `tests/emulated` builds the images first.

use std::{
    path::PathBuf,
    process::ExitCode,
    sync::atomic::{AtomicBool, Ordering},
    time::{Duration, Instant},
};

use bellwire_tests::{
    emulated::{
        desk::PERIOD,
        scenarios::{ALL, Bench, Scenario},
    },
    seed,
};

/// How often a scenario is played at most.
const TIMES: usize = 5;

fn main() -> ExitCode {
    let mut words = std::env::args().skip(1);
    let Some(images) = words.next().map(PathBuf::from) else {
        eprintln!("usage: emulated IMAGES [NAME...]");
        return ExitCode::from(2);
    };
    let names: Vec<String> = words.collect();
    let unknown = names.iter().find(|name| !ALL.iter().any(|scenario| scenario.name == **name));
    if let Some(name) = unknown {
        eprintln!("emulated: no scenario {name}");
        return ExitCode::from(2);
    }
    let chosen = ALL.iter().filter(|it| names.is_empty() || names.iter().any(|name| name == it.name));
    let (mut passed, mut failed) = (0, 0);
    for scenario in chosen {
        if play(scenario, &images) {
            passed += 1;
        } else {
            failed += 1;
        }
    }
    println!("{passed} passed, {failed} failed");
    if failed > 0 { ExitCode::FAILURE } else { ExitCode::SUCCESS }
}

/// How it went.
enum Played {
    Well,
    Badly,
    /// Badly, on a computer that stood still for so long.
    TooSlowly(Duration),
}

fn play(scenario: &Scenario, images: &std::path::Path) -> bool {
    for _ in 1..TIMES {
        match play_once(scenario, images) {
            Played::Well => return true,
            Played::Badly => return false,
            Played::TooSlowly(still) => {
                println!("               this computer stood still for {} ms: once more", still.as_millis());
            }
        }
    }
    matches!(play_once(scenario, images), Played::Well)
}

fn play_once(scenario: &Scenario, images: &std::path::Path) -> Played {
    let folder = tempfile::tempdir().expect("a folder");
    let seed = seed(scenario.name);
    let bench =
        Bench { images: images.to_path_buf(), folder: folder.path().to_path_buf(), seed: seed.value() };
    let start = Instant::now();
    let over = AtomicBool::new(false);
    let (played, still) = std::thread::scope(|scope| {
        let watch = scope.spawn(|| longest_still(&over));
        let played = std::panic::catch_unwind(|| (scenario.play)(&bench));
        over.store(true, Ordering::Relaxed);
        (played, watch.join().expect("it only sleeps"))
    });
    let took = start.elapsed().as_secs_f64();
    println!("{:<14} {:<56} {took:5.1} s", scenario.name, scenario.shows);
    match &played {
        Ok(measured) => println!("               {measured}"),
        Err(_) => println!("               FAILED, seed {:#018x}", seed.value()),
    }
    match played {
        Ok(_) => Played::Well,
        Err(_) if still > PERIOD => Played::TooSlowly(still),
        Err(_) => Played::Badly,
    }
}

/// How much later than asked for a sleeping thread was woken at worst, until it is over.
fn longest_still(over: &AtomicBool) -> Duration {
    const NAP: Duration = Duration::from_millis(5);
    let mut longest = Duration::ZERO;
    while !over.load(Ordering::Relaxed) {
        let asleep = Instant::now();
        std::thread::sleep(NAP);
        longest = longest.max(asleep.elapsed().saturating_sub(NAP));
    }
    longest
}
