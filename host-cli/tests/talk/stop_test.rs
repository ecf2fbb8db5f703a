//! `stop-test` against the simulated dome, and against boards that never stop or are not there.

use crate::tool::{Tool, folder, run, twin_is_there};

#[test]
fn it_moves_nothing_unless_the_caution_was_read() {
    let ended = run(&["stop-test", "demo:"]);
    assert_eq!((ended.code, ended.out.as_str()), (Some(2), ""));
    assert!(ended.err.contains("emergency stop") && ended.err.contains("--arm"), "{}", ended.err);
    let ended = run(&["stop-test", "udp:127.0.0.1:9", "--arm"]);
    assert!(ended.code == Some(2) && ended.err.contains("forge"), "{}", ended.err);
    let ended = run(&["stop-test", "demo:", "--arm", "--period", "300ms"]);
    assert!(ended.code == Some(2) && ended.err.contains("--period"), "{}", ended.err);
    let ended = run(&["stop-test", "demo:", "--arm", "--speed", "0"]);
    assert!(ended.code == Some(2) && ended.err.contains("--speed"), "{}", ended.err);
}

/// The dome's limit is 500 ms: no stop is reported before it, and one is reported each time. How much later depends on this computer.
#[test]
fn each_run_ends_with_a_stop_not_before_the_limit() {
    for how in ["silence", "cut"] {
        let words = [
            "stop-test",
            "demo:noise=clean",
            "--arm",
            "--times",
            "2",
            "--how",
            how,
            "--margin",
            "4s",
            "--json",
        ];
        let ended = run(&words);
        assert_eq!(ended.code, Some(0), "{}{}", ended.out, ended.err);
        let records: Vec<serde_json::Value> =
            ended.out.lines().map(|line| serde_json::from_str(line).expect("JSON")).collect();
        let [one, two, sum] = records.as_slice() else { panic!("{}", ended.out) };
        for (number, run) in [one, two].into_iter().enumerate() {
            assert_eq!((&run["record"], &run["run"]), (&"stop".into(), &(number + 1).into()));
            // The demo stamps in whole microseconds.
            assert!(run["after_us"].as_u64().is_some_and(|after| after >= 499_999), "{run}");
        }
        assert_eq!((&sum["result"], &sum["how"], &sum["runs"]), (&"good".into(), &how.into(), &2.into()));
        assert_eq!(sum["limit_us"], 500_000);
    }
}

#[test]
fn a_stop_later_than_limit_and_margin_is_not_good() {
    let ended = run(&[
        "stop-test",
        "demo:noise=clean",
        "--arm",
        "--times",
        "1",
        "--limit",
        "200ms",
        "--margin",
        "1ms",
    ]);
    assert_eq!(ended.code, Some(1), "{}{}", ended.out, ended.err);
    assert!(ended.out.contains("result      1 of 1 later than limit and margin"), "{}", ended.out);
}

#[test]
fn a_peer_that_reports_nothing_is_told_apart() {
    let (_folder, path) = folder();
    let _board = Tool::start(&["peer", &format!("twin:{path}")]);
    twin_is_there(&path);
    let ended = run(&["stop-test", &path, "--arm", "--wait", "500ms"]);
    assert_eq!(ended.code, Some(69), "{}", ended.err);
    assert!(ended.err.contains("no report that the board stands still"), "{}", ended.err);
}
