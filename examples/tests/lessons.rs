//! Each lesson runs, tells what its text promises, and tells the same every time.

use std::process::Command;

/// What a lesson prints; it is run twice and must not differ.
fn output(lesson: &str) -> String {
    let run = || {
        let output = Command::new(lesson).output().expect("the lesson runs");
        assert!(output.status.success(), "{lesson}: {output:?}");
        String::from_utf8(output.stdout).expect("text")
    };
    let first = run();
    assert_eq!(first, run(), "virtual time: the same every time");
    first
}

/// Seconds and text of each line that begins with a time.
fn story(output: &str) -> Vec<(f64, &str)> {
    output
        .lines()
        .filter_map(|line| {
            let (time, what) = line.split_once(" s  ")?;
            Some((time.trim().parse().ok()?, what))
        })
        .collect()
}

/// When something is told for the first time.
fn when(story: &[(f64, &str)], what: &str) -> f64 {
    story.iter().find(|(_, told)| *told == what).unwrap_or_else(|| panic!("{what:?} is not in {story:?}")).0
}

#[test]
fn the_desk_drives_the_dome_once_it_is_armed_and_the_lever_pushed() {
    let output = output(env!("CARGO_BIN_EXE_short_start_desk"));
    let story = story(&output);
    assert!(when(&story, "desk: the link is open") < 0.5);
    let turns = when(&story, "dome: the motor turns at 2.00 °/s");
    assert!((1.0..1.2).contains(&turns), "{turns}");
}

#[test]
fn the_dome_stops_within_its_limit_and_waits_for_the_whole_act() {
    let output = output(env!("CARGO_BIN_EXE_short_start_dome"));
    let story = story(&output);
    let stops = when(&story, "dome: the motor stops (brake)");
    assert!(
        (2.3..=2.5).contains(&stops),
        "the last news came at 1.9 s or later, the limit is 0.5 s: {stops}"
    );
    let turns: Vec<f64> =
        story.iter().filter(|(_, told)| told.contains("turns")).map(|(time, _)| *time).collect();
    assert_eq!(turns.len(), 2, "{story:?}");
    assert!((6.0..6.2).contains(&turns[1]), "not before the lever was let go and pushed again: {turns:?}");
}

#[test]
fn the_mast_gets_its_reports_through_though_each_fourth_datagram_is_lost() {
    let output = output(env!("CARGO_BIN_EXE_short_start_mast"));
    let story = story(&output);
    let count = |what: &str| story.iter().filter(|(_, told)| told.contains(what)).count();
    assert_eq!((count("mast: reports"), count("a report comes")), (6, 6), "{story:?}");
}

#[test]
fn a_lost_octet_costs_one_frame_or_the_two_whose_delimiter_it_was() {
    let output = output(env!("CARGO_BIN_EXE_lost_octet"));
    let frames: Vec<&str> = output.lines().filter(|line| line.starts_with("without octet")).collect();
    assert_eq!(frames.len(), 31);
    let got =
        |numbers: &str| frames.iter().filter(|line| line.contains(&format!("frames {numbers} "))).count();
    assert_eq!(
        (got("[0, 1, 2]"), got("[2]"), got("[0]")),
        (1, 1, 1),
        "first delimiter, and the two between frames"
    );
    assert_eq!((got("[1, 2]"), got("[0, 2]"), got("[0, 1]")), (9, 9, 10));
}

#[test]
fn a_restart_ends_the_session_and_leaves_the_errand_unknown() {
    let output = output(env!("CARGO_BIN_EXE_restart"));
    let story = story(&output);
    assert!(when(&story, "desk: the outcome: delivered") < 1.0);
    let reset = when(&story, "reset of the second board");
    let unknown = when(&story, "desk: the outcome: unknown (it may have arrived)");
    let ended = when(&story, "desk: the session has ended: the peer restarted (the watchdog)");
    assert!(reset < unknown && unknown <= ended && ended < reset + 0.1, "{story:?}");
    assert_eq!(story.iter().filter(|(_, told)| *told == "desk: the link is open").count(), 2);
}

#[test]
fn a_stale_command_stops_the_motor_and_its_return_starts_nothing() {
    let output = output(env!("CARGO_BIN_EXE_stale_command"));
    let story = story(&output);
    let trip = when(&story, "dome: trips: no news within the limit");
    assert!((2.3..=2.5).contains(&trip), "{trip}");
    let refused = "dome: the button does nothing: the newest set-point is not the stop value: send the stop value first";
    assert!((3.5..3.6).contains(&when(&story, refused)));
    let driven: Vec<f64> = story
        .iter()
        .filter(|(_, told)| *told == "dome: running, drive 2.00 °/s")
        .map(|(time, _)| *time)
        .collect();
    assert!(matches!(driven[..], [first, second] if first < 2.0 && second >= 5.0), "{story:?}");
}

#[test]
fn a_console_shares_the_wire() {
    let output = output(env!("CARGO_BIN_EXE_console"));
    assert!(output.contains("desk: text on the wire: \"dome 2.1 ready\\r\\n> \""), "{output}");
    assert_eq!(output.matches("desk: a report comes, message number 7").count(), 2);
    assert!(output.contains("; 0 of them were 0x03, 0x11 or 0x13."));
}

#[test]
fn boards_with_two_agreements_do_not_open_and_the_motor_stays_held() {
    let output = output(env!("CARGO_BIN_EXE_two_agreements"));
    for side in ["ours 20250A11, theirs 20260B07", "ours 20260B07, theirs 20250A11"] {
        assert_eq!(output.matches(side).count(), 1, "{output}");
    }
    assert!(
        output
            .contains("the link is down\nthe motor is held\nthe button does nothing: the agreements differ")
    );
}

#[test]
fn a_leaf_stops_by_itself_when_the_hub_dies_and_nobodys_return_starts_it() {
    let output = output(env!("CARGO_BIN_EXE_stopping"));
    let (closed, opened) = output.split_once("Opened by hand").expect("two parts");
    assert_eq!(closed.matches("dome: obeys no rate: it moves something, and anyone").count(), 1, "{closed}");
    assert!(!closed.contains("the motor turns"), "{closed}");
    let story = story(opened);
    let times = |what: &str| -> Vec<f64> {
        story.iter().filter(|(_, told)| told.contains(what)).map(|(time, _)| *time).collect()
    };
    let [trip] = times("trips: no news within the limit")[..] else { panic!("{story:?}") };
    assert!(
        (4.5..5.0).contains(&trip),
        "at most two of three rates before the reset at 4 s were lost: {trip}"
    );
    assert_eq!(times("the motor stops (brake)"), [trip]);
    assert!(
        matches!(times("the motor turns")[..], [first, second] if first < 4.0 && second > 11.0),
        "{story:?}"
    );
    assert!(matches!(times("the button does nothing")[..], [at] if (8.0..8.1).contains(&at)), "{story:?}");
}
