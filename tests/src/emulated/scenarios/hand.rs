//! The tool turns a board: `steer` with keys, and `stop-test`.

use super::{Bed, Bench, check_stop, said};
use crate::emulated::{
    board::Clock,
    said::{Drive, MOTOR},
};

const RIGHT: &[u8] = b"\x1b[C";

pub(super) fn steer(bench: &Bench) -> String {
    let bed = bench.dome(Clock::Wall, &[]);
    let start = || bed.at_keyboard(bench, &["steer", Bed::DEVICE, "--step", "1", "--ramp", "100"]);
    let mut steer = start();
    steer.shows("link up | silent");
    // Before arming an arrow does nothing.
    steer.press(RIGHT);
    steer.press(b"a");
    steer.shows("armed: +0.00");
    assert!(bed.drives().iter().all(|drive| drive.outputs == 0), "it turns before an arrow");
    steer.press(RIGHT);
    steer.shows(" °, 1.00 °/s, 0 %, running");
    assert_eq!(bed.drives().last().map(|it| (it.rate, it.outputs & MOTOR)), Some((100, MOTOR)));
    steer.press(b" ");
    let _ = bed.until_drive("the stop by hand", |drive| drive.rate == 0 && drive.newest > 0);
    steer.press(RIGHT);
    let turning = |drive: Drive| drive.rate == 100;
    let _ = bed.until_drive("the motor", turning);
    // Leaving sends the stop value.
    steer.press(b"q");
    let left = steer.ends().with_code(0);
    assert!(
        left.out.contains("emergency stop") && left.out.contains("the stop value is sent"),
        "{}",
        left.out
    );
    let by_hand = bed.until_drive("the stop at the end", |drive| drive.rate == 0);
    assert!(
        by_hand.at < by_hand.newest + super::LIMIT,
        "the stop value was not what stopped it: {by_hand:?}"
    );
    // A program that dies while the motor turns can send nothing: the board stops by itself.
    let mut steer = start();
    steer.shows("link up | silent");
    steer.press(b"a");
    steer.shows("armed: +0.00");
    steer.press(RIGHT);
    let _ = bed.until_drive("the motor", turning);
    drop(steer);
    let stop = bed.until_drive("the stop", |drive| drive.rate == 0);
    check_stop(stop);
    let mut steer = start();
    steer.shows("no-news");
    steer.press(b"q");
    let _ = steer.ends().with_code(0);
    assert_eq!(bed.drives().last(), Some(&stop), "it turns again without having been armed");
    format!(
        "armed, turned, stopped by hand and by leaving; killed while it turned: stop {} µs after the last set-point, alarm told to the next",
        stop.at - stop.newest
    )
}

/// The board's own stops for want of news: how long after the arrival of the newest set-point, µs.
fn stops(bed: &Bed) -> Vec<u32> {
    let drives = bed.drives();
    let stops = drives.windows(2).filter(|pair| pair[0].rate != 0 && pair[1].rate == 0).map(|pair| pair[1]);
    stops.inspect(|stop| check_stop(*stop)).map(|stop| stop.at - stop.newest).collect()
}

pub(super) fn stop_test(bench: &Bench) -> String {
    let bed = bench.dome(Clock::Wall, &[]);
    let test = |words: &[&str]| bed.tool(bench, &[&["stop-test", Bed::DEVICE], words].concat()).ends();
    let refused = test(&[]).with_code(2);
    assert!(refused.err.contains("--arm") && refused.err.contains("emergency stop"), "{}", refused.err);
    assert!(bed.drives().iter().all(|drive| drive.outputs == 0), "it turns unarmed");
    let mut measured = Vec::new();
    for how in ["silence", "cut"] {
        // What this computer adds is not held to anything.
        let words = ["--arm", "--times", "2", "--how", how, "--margin", "4s", "--json"];
        let records = test(&words).with_code(0).records();
        let [runs @ .., sum] = records.as_slice() else { panic!("no sum") };
        assert_eq!(
            (&sum["result"], &sum["how"], sum["runs"].as_u64()),
            (&"good".into(), &how.into(), Some(2))
        );
        measured.extend(runs.iter().map(|run| run["after_us"].as_u64().expect("a time")));
    }
    let late = test(&["--arm", "--times", "1", "--limit", "400ms", "--margin", "1ms"]).with_code(1);
    assert!(late.out.contains("1 of 1 later than limit and margin"), "{}", late.out);
    let stops = stops(&bed);
    // One for each run; a busy computer may have let more happen, after which a run is begun again.
    assert!(stops.len() >= 5, "stops on the board: {:?}", bed.drives());
    assert_eq!(bed.drives().last().map(|it| it.outputs & said::MOTOR), Some(0), "it turns on");
    format!(
        "measured at the computer {measured:?} µs after handing over; on the board {stops:?} µs after arrival"
    )
}
