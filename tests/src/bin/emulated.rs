//! Plays the scenarios of the emulated boards: `emulated IMAGES [NAME...]`, IMAGES being the folder of the images of the M0-class board.
//!
//! One line a scenario; status 1 if one fails. `tests/emulated` builds the images first.

use std::{path::PathBuf, process::ExitCode, time::Instant};

use bellwire_tests::{
    emulated::scenarios::{ALL, Bench, Scenario},
    seed,
};

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

fn play(scenario: &Scenario, images: &std::path::Path) -> bool {
    let folder = tempfile::tempdir().expect("a folder");
    let seed = seed(scenario.name);
    let bench =
        Bench { images: images.to_path_buf(), folder: folder.path().to_path_buf(), seed: seed.value() };
    let start = Instant::now();
    let played = std::panic::catch_unwind(|| (scenario.play)(&bench));
    let took = start.elapsed().as_secs_f64();
    println!("{:<14} {:<56} {took:5.1} s", scenario.name, scenario.shows);
    match &played {
        Ok(measured) => println!("               {measured}"),
        Err(_) => println!("               FAILED, seed {:#018x}", seed.value()),
    }
    played.is_ok()
}
