//! The scripts of `tests/vectors/sessions.json`: one link against a peer that Python played from the state tables of WIRE.md.

use bellwire::time::Instant;
use bellwire_tests::{
    session::{Script, play},
    vector,
};

#[test]
fn every_script_goes_as_written() {
    let scripts = vector::read::<Script>("sessions");
    let faults: Vec<_> =
        scripts.iter().filter_map(|script| play(script, Instant::from_ticks(0)).err()).collect();
    assert!(faults.is_empty(), "{} of {} scripts:\n{}", faults.len(), scripts.len(), faults.join("\n\n"));
}

#[test]
fn the_wrap_of_time_changes_nothing() {
    for script in vector::read::<Script>("sessions") {
        for before in [1, 5_000, 60_000, 2_000_000] {
            play(&script, Instant::from_ticks(u32::MAX - before))
                .unwrap_or_else(|fault| panic!("{before} us before the wrap: {fault}"));
        }
    }
}
