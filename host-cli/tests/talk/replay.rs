//! `replay` of a capture into a pseudo-terminal that another program reads.

use std::time::Duration;

use bellwire::frame::{Header, Kind, Read};
use bellwire_cli::{
    capture::Writer,
    endpoint::{Chunk, Direction, PortInfo, Wiring},
    talk::codec,
};

use crate::tool::{Ended, Tool, board, folder, run, twin_is_there};

fn frame(kind: Kind, number: u8, payload: &[u8]) -> Vec<u8> {
    let codec = codec(Wiring::default());
    codec.encode(&codec.frame(&Header { number, ..Header::new(kind) }, payload))
}

/// A capture of a second: the board reports every 100 ms, the desk steers and lights the lamp.
fn capture(path: &str) {
    let mut writer = Writer::new();
    writer.section();
    writer.port(&PortInfo { wiring: Some(Wiring::default()), ..PortInfo::named("dome") });
    let mut chunk = |at: u64, direction, octets: Vec<u8>| {
        writer.chunk(&Chunk { at: 1_700_000_000_000_000_000 + at * 1_000_000, port: 0, direction, octets });
    };
    for tick in 0..10_u8 {
        let at = u64::from(tick) * 100;
        chunk(at, Direction::In, frame(Kind::Notice, tick, &[10, 1, b'0' + tick]));
        chunk(at + 10, Direction::Out, frame(Kind::SetPoint, tick, &[0, 40]));
        let out = [frame(Kind::Errand, tick, &[9, tick]), frame(Kind::Notice, tick, &[10, 1, b'd'])].concat();
        chunk(at + 20, Direction::Out, out);
    }
    std::fs::write(path, writer.octets()).unwrap();
}

/// Replays the capture; gives what a second program read, frame by frame.
fn replayed(words: &[&str]) -> (Ended, Vec<(Kind, u8)>) {
    let (_folder, path) = folder();
    let file = format!("{path}.pcapng");
    capture(&file);
    let tool = Tool::start(&[&["replay", &file, &format!("twin:{path}")], words].concat());
    let (sender, octets) = std::sync::mpsc::channel();
    let board = board(&path, move |octets| {
        sender.send(octets.to_vec()).unwrap();
        Vec::new()
    });
    let ended = tool.end();
    board.join().unwrap();
    let (mut codec, mut frames) = (codec(Wiring::default()), Vec::new());
    for octets in octets {
        codec.read(&octets, &mut |read| match read {
            Read::Frame(view) => frames.push((view.header.kind, view.header.number)),
            other => panic!("{other:?}"),
        });
    }
    (ended, frames)
}

#[test]
fn what_the_board_said_arrives_in_order() {
    let (ended, frames) = replayed(&["--speed", "max"]);
    assert_eq!(ended.code, Some(0), "{}", ended.err);
    assert_eq!(frames, (0..10).map(|number| (Kind::Notice, number)).collect::<Vec<_>>());
}

#[test]
fn what_may_move_something_is_left_out_and_counted_unless_armed() {
    let (ended, frames) = replayed(&["--speed", "max", "--direction", "out"]);
    assert_eq!(ended.code, Some(0), "{}", ended.err);
    assert!(ended.out.contains("10 set-points and 10 errands"), "{}", ended.out);
    assert_eq!(frames, (0..10).map(|number| (Kind::Notice, number)).collect::<Vec<_>>());
    let (ended, frames) = replayed(&["--speed", "max", "--direction", "both", "--arm", "--json"]);
    assert!(ended.err.contains("functional stop"), "{}", ended.err);
    let sum: serde_json::Value = serde_json::from_str(&ended.out).unwrap();
    assert_eq!((&sum["record"], sum["set_points_left_out"].as_u64()), (&"replay".into(), Some(0)));
    let order = [Kind::Notice, Kind::SetPoint, Kind::Errand, Kind::Notice];
    let wanted: Vec<_> = (0..10).flat_map(|number| order.map(|kind| (kind, number))).collect();
    assert_eq!(frames, wanted);
}

#[test]
fn the_recorded_times_are_kept_or_scaled() {
    // Only lower bounds: a busy computer may be late, never early. The capture is 920 ms long.
    for (speed, at_least) in [("1", 900), ("3", 300)] {
        let (ended, _) = replayed(&["--speed", speed, "--json"]);
        let sum: serde_json::Value = serde_json::from_str(&ended.out).unwrap();
        let took = Duration::from_secs_f64(sum["seconds"].as_f64().unwrap());
        assert!(took >= Duration::from_millis(at_least), "speed {speed}: {took:?}");
    }
}

#[test]
fn bad_input_is_said_before_anything_is_sent() {
    let (_folder, path) = folder();
    let twin = format!("twin:{path}");
    std::fs::write(format!("{path}.txt"), "diary").unwrap();
    let ended = run(&["replay", &format!("{path}.txt"), &twin]);
    assert_eq!(ended.code, Some(65), "{}", ended.err);
    let ended = run(&["replay", &format!("{path}.no"), &twin]);
    assert_eq!(ended.code, Some(69), "{}", ended.err);
    let ended = run(&["replay", &format!("{path}.txt"), &twin, "--speed", "0"]);
    assert!(ended.code == Some(2) && ended.err.contains("above zero"), "{}", ended.err);
}

#[test]
fn a_second_process_logs_what_is_replayed() {
    let (_folder, path) = folder();
    let file = format!("{path}.pcapng");
    capture(&file);
    let tool = Tool::start(&["replay", &file, &format!("twin:{path}"), "--speed", "4"]);
    twin_is_there(&path);
    let mut log = Tool::start(&["log", &path, "--json"]);
    let mut numbers = Vec::new();
    while numbers.len() < 10 {
        let line: serde_json::Value = serde_json::from_str(&log.line_with("\"record\":\"frame\"")).unwrap();
        assert_eq!(line["name"], "log-line");
        numbers.push(line["number"].as_u64().unwrap());
    }
    assert_eq!(numbers, (0..10).collect::<Vec<_>>());
    assert_eq!(tool.end().code, Some(0));
}
