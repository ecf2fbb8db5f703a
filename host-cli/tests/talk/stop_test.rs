//! `stop-test` against the simulated dome, and against boards that never stop or are not there.

use bellwire_cli::observatory;

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
    let ended = run(&["stop-test", "demo:", "--arm", "--value", "0"]);
    assert!(ended.code == Some(2) && ended.err.contains("--value"), "{}", ended.err);
    let help = run(&["stop-test", "--help"]).out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(help.contains("emergency stop") && help.contains("counts as new, a copy"), "{help}");
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
        let document = include_str!("../../RECORDS.md");
        for key in records.iter().filter_map(|record| record.as_object()).flat_map(|object| object.keys()) {
            assert!(document.contains(&format!("`{key}`")), "`{key}` is not in RECORDS.md");
        }
    }
}

#[test]
fn a_stop_far_from_the_limit_is_not_good() {
    for (limit, word) in [("400ms", "later than limit and margin"), ("10min", "earlier than the limit")] {
        let words =
            ["stop-test", "demo:noise=clean", "--arm", "--times", "1", "--limit", limit, "--margin", "1ms"];
        let ended = run(&words);
        assert_eq!(ended.code, Some(1), "{}{}", ended.out, ended.err);
        assert!(ended.out.contains(&format!("result      1 of 1 {word}")), "{}", ended.out);
    }
}

/// The demo's dome under other names: what is sent and looked for comes from the agreement alone.
#[test]
fn any_set_point_whose_board_reports_it_is_tested() {
    let (folder, _) = folder();
    let mut text = observatory::AGREEMENT.to_owned();
    for (from, to) in [("dome-rate", "lift"), ("dome-state", "lifted"), ("re-arm", "let-go")] {
        text = text.replacen(&format!("name = \"{from}\""), &format!("name = \"{to}\""), 1);
    }
    let file = folder.path().join("lift.toml");
    std::fs::write(&file, text).unwrap();
    let test = |words: &[&str]| {
        let agreed = ["stop-test", "demo:noise=clean", "--arm", "--agreement", file.to_str().unwrap()];
        run(&[&agreed[..], &["--times", "1", "--margin", "4s"], words].concat())
    };
    // Names are in the fingerprint, so ours must be said to be the board's.
    let ours = format!("{:#x}", observatory::FINGERPRINT);
    let named = ["--message", "lift", "--value", "rate=-0.5", "--rearm", "let-go"];
    let ended = test(&[&named[..], &["--fingerprint", &ours]].concat());
    assert_eq!(ended.code, Some(0), "{}{}", ended.out, ended.err);
    assert!(ended.out.contains("result      good"), "{}", ended.out);
    let cut = ["--how", "cut", "--alarm", "dome-alarm reason=no-news", "--fingerprint", &ours];
    let ended = test(&[&named[..], &cut].concat());
    assert_eq!(ended.code, Some(0), "{}{}", ended.out, ended.err);
    assert_eq!(test(&named).code, Some(76));
    for (words, part) in [
        (&["--message", "lif"][..], "did you mean 'lift'?"),
        (&["--message", "lift"], "which value of lift"),
        (&["--message", "lift", "--value", "21"], "-20.00 to 20.00"),
        (&["--message", "focuser-rate", "--value", "5"], "no report of its board shows"),
        (&["--message", "lift", "--value", "1", "--report", "weather"], "weather shows no field of lift"),
        (&["--message", "lift", "--value", "1", "--rearm", "dome-goto"], "'azimuth' is missing"),
        (&["--message", "lift", "--value", "1", "--alarm", "dome-alarm"], "'reason' is missing"),
    ] {
        let ended = test(words);
        let err = ended.err.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(ended.code == Some(2) && err.contains(part), "{words:?}: {err}");
    }
}

#[test]
fn a_peer_that_reports_nothing_is_told_apart() {
    let (_folder, path) = folder();
    let _board = Tool::start(&["peer", &format!("twin:{path}")]);
    twin_is_there(&path);
    let ended = run(&["stop-test", &path, "--arm", "--wait", "500ms"]);
    assert_eq!(ended.code, Some(69), "{}", ended.err);
    assert!(ended.err.contains("no report that it stands still"), "{}", ended.err);
}
