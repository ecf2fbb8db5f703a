//! Two `bellwire` processes talking over a pseudo-terminal or a socket: outcomes, exit codes, what each prints.

use crate::tool::{Tool, board, folder, run, twin_is_there};

fn peer(path: &str, words: &[&str]) -> Tool {
    let twin = format!("twin:{path}");
    let tool = Tool::start(&[&["peer", &twin, "--json"], words].concat());
    twin_is_there(path);
    tool
}

/// The records of a JSON output.
fn records(out: &str) -> Vec<serde_json::Value> {
    out.lines().map(|line| serde_json::from_str(line).unwrap_or_else(|e| panic!("{e}: {line}"))).collect()
}

fn events(out: &str) -> Vec<String> {
    records(out).iter().filter_map(|record| record["event"].as_str().map(str::to_owned)).collect()
}

#[test]
fn an_errand_by_name_is_delivered_and_read_by_name() {
    let (_folder, path) = folder();
    let mut peer = peer(&path, &[]);
    let ended = run(&["inject", &path, "lamp", "level=40", "--json"]);
    assert_eq!(ended.code, Some(0), "{}", ended.err);
    assert_eq!(events(&ended.out), ["opened", "delivered"]);
    let line = peer.line_with("\"kind\":\"errand\"");
    let frame: serde_json::Value = serde_json::from_str(&line).unwrap();
    assert_eq!((&frame["record"], &frame["name"]), (&"frame".into(), &"lamp".into()), "{line}");
    assert!(line.contains("\"level\":40"), "{line}");
    let peer = peer.stop();
    assert_eq!(peer.code, Some(0));
    assert!(peer.err.contains("1 messages in 1 sessions"), "{}", peer.err);
}

#[test]
fn every_class_and_every_stream_framing_with_both_widths() {
    for (framing, fcs) in [("cobs", "32"), ("octet-stuffing", "16"), ("slip", "32")] {
        let line = ["--framing", framing, "--fcs", fcs];
        let (_folder, path) = folder();
        let mut peer = peer(&path, &line);
        for class in ["errand", "report", "notice"] {
            let words = ["inject", &path, class, "9", "--payload", "7e c0 00 03"];
            let ended = run(&[&words[..], &line].concat());
            assert_eq!(ended.code, Some(0), "{framing} {class}: {}{}", ended.out, ended.err);
            let seen = peer.line(|line| line.contains(&format!("\"kind\":\"{class}\"")));
            assert!(seen.contains("097ec00003"), "{framing} {class}: {seen}");
        }
    }
}

/// ERRAND, number 0, lamp, 4 %. The FCS is from the bitwise definition in RFC 1662 C.2 (computed in Python), COBS is by hand.
const LONE_LAMP: [u8; 9] = [0x00, 0x02, 0x40, 0x05, 0x09, 0x04, 0x55, 0x7B, 0x00];

/// What the tool puts on the wire, seen by a board that says nothing.
fn on_the_wire(words: &[&str]) -> Vec<u8> {
    let (_folder, path) = folder();
    let twin = format!("twin:{path}");
    let tool = Tool::start(&[&["inject", twin.as_str()], words].concat());
    let (sender, octets) = std::sync::mpsc::channel();
    let board = board(&path, move |octets| {
        sender.send(octets.to_vec()).unwrap();
        Vec::new()
    });
    assert_eq!(tool.end().code, Some(0));
    board.join().unwrap();
    octets.iter().flatten().collect()
}

#[test]
fn octet_stuffing_keeps_the_mapped_octets_off_the_wire() {
    let frame = ["notice", "9", "--payload", "03 11 13 7e 7d", "--lone"];
    let map = ["--framing", "octet-stuffing", "--map", "0x000A0008"];
    let octets = on_the_wire(&[&frame[..], &map].concat());
    assert!(
        octets.contains(&0x7D) && !octets.iter().any(|octet| [0x03, 0x11, 0x13].contains(octet)),
        "{octets:02X?}"
    );
}

#[test]
fn raw_octets_and_lone_frames_go_out_as_they_are() {
    assert_eq!(on_the_wire(&["--raw", "00 01 fe ff"]), [0, 1, 0xFE, 0xFF]);
    assert_eq!(on_the_wire(&["lamp", "level=4", "--lone"]), LONE_LAMP);
    assert_eq!(on_the_wire(&["lamp", "level=4", "--wrong", "doubled"]), LONE_LAMP.repeat(2));
    assert_eq!(
        on_the_wire(&["lamp", "level=4", "--lone", "--every", "10ms", "--for", "25ms"]),
        LONE_LAMP.repeat(3)
    );
}

/// Ports that nobody uses now, neither for connections nor for datagrams.
fn free_ports() -> [u16; 3] {
    use std::net::{TcpListener, UdpSocket};
    let held: Vec<_> = (0..3).map(|_| TcpListener::bind("127.0.0.1:0").unwrap()).collect();
    let ports: Vec<_> = held.iter().map(|listener| listener.local_addr().unwrap().port()).collect();
    let _free = ports.iter().map(|&port| UdpSocket::bind(("127.0.0.1", port)).unwrap()).collect::<Vec<_>>();
    ports.try_into().unwrap()
}

#[test]
fn over_a_socket_and_as_datagrams() {
    let [tcp, one, other] = free_ports();
    let pairs = [
        (format!("await:{tcp}"), format!("tcp:127.0.0.1:{tcp}")),
        (format!("udp:127.0.0.1:{one}@{other}"), format!("udp:127.0.0.1:{other}@{one}")),
    ];
    for (ours, theirs) in &pairs {
        let mut peer = Tool::start(&["peer", ours, "--json"]);
        let words = ["inject", theirs, "lamp", "level=1", "--wait", "20s"];
        // The peer may not listen yet: then the endpoint is unavailable, and we come again.
        let ended =
            (0..50).map(|_| run(&words)).find(|ended| ended.code != Some(69)).expect("it listens at last");
        assert_eq!(ended.code, Some(0), "{theirs}: {}{}", ended.out, ended.err);
        peer.line_with("\"name\":\"lamp\"");
        assert_eq!(peer.stop().code, Some(0));
    }
}

#[test]
fn repeated_errands_all_arrive_in_order() {
    let (_folder, path) = folder();
    let peer = peer(&path, &[]);
    let ended =
        run(&["inject", &path, "errand", "9", "--payload", "05", "--every", "10ms", "--for", "500ms"]);
    assert_eq!(ended.code, Some(0), "{}", ended.err);
    let sum = ended.out.lines().rfind(|line| line.contains("sum")).expect("a sum").to_owned();
    let sent: usize = sum.split_whitespace().nth(3).unwrap().parse().unwrap();
    assert!(sum.contains(&format!("{sent} times errand 9: {sent} delivered")), "{sum}");
    let peer = peer.stop();
    let numbers: Vec<_> = records(&peer.out)
        .iter()
        .filter(|record| record["kind"] == "errand")
        .map(|record| usize::try_from(record["number"].as_u64().unwrap()).unwrap())
        .collect();
    assert_eq!(numbers, (0..sent).collect::<Vec<_>>());
}

#[test]
fn another_agreement_is_said_on_both_sides() {
    let (_folder, path) = folder();
    let mut peer = peer(&path, &["--fingerprint", "0x11"]);
    let ended = run(&["inject", &path, "lamp", "level=4", "--fingerprint", "0x22"]);
    assert_eq!(ended.code, Some(76), "{}", ended.err);
    assert!(ended.err.contains("00000022") && ended.err.contains("00000011"), "{}", ended.err);
    let line = peer.line_with("differs");
    assert!(line.contains("00000022") && line.contains("00000011"), "{line}");
    assert_eq!(peer.stop().code, Some(76));
}

#[test]
fn a_board_that_never_confirms_makes_the_outcome_unknown() {
    use bellwire::frame::{Header, Kind, Open, Read, ResetCause, WIRE_VERSION};
    use bellwire_cli::{endpoint::Wiring, talk::codec};
    let (_folder, path) = folder();
    let tool =
        Tool::start(&["inject", &format!("twin:{path}"), "lamp", "level=4", "--wait", "20s", "--json"]);
    let mut codec = codec(Wiring::default());
    // It answers openings, and is deaf to everything else.
    let board = board(&path, move |octets| {
        let mut opens = Vec::new();
        codec.read(octets, &mut |read| {
            if let Read::Frame(view) = read {
                opens.extend(view.open().filter(|open| open.ask));
            }
        });
        let answer = |theirs: &Open| Open {
            version: WIRE_VERSION,
            ask: theirs.echo.is_none(),
            numberless: false,
            cause: ResetCause::Power,
            mine: 5,
            echo: Some(theirs.mine),
            window: 1,
            max_payload: 64,
            fingerprint: 0,
            silence: 0,
            identity: 0xD0,
        };
        opens
            .iter()
            .flat_map(|open| codec.encode(&codec.frame(&Header::new(Kind::Open), &answer(open).octets())))
            .collect()
    });
    let ended = tool.end();
    board.join().unwrap();
    assert_eq!(ended.code, Some(1), "{}{}", ended.out, ended.err);
    assert_eq!(events(&ended.out), ["opened", "resent", "resent", "resent", "resent", "unknown"]);
    assert!(ended.out.contains("may have arrived or not"), "{}", ended.out);
}

#[test]
fn not_sent_is_certain() {
    let (_folder, path) = folder();
    let _peer = peer(&path, &[]);
    let long = "00".repeat(300);
    let ended = run(&["inject", &path, "notice", "9", "--payload", &long]);
    assert_eq!(ended.code, Some(1), "{}", ended.err);
    assert!(ended.out.contains("not sent: longer than the 256 octets"), "{}", ended.out);
    let ended = run(&["inject", &format!("twin:{path}.no"), "lamp", "level=4", "--wait", "300ms"]);
    assert_eq!(ended.code, Some(69));
    assert!(
        ended.err.contains("not sent: nobody answered") && ended.err.contains("bellwire check"),
        "{}",
        ended.err
    );
}

#[test]
fn what_moves_something_needs_arming_and_prints_the_caution() {
    let (_folder, path) = folder();
    let twin = format!("twin:{path}");
    for words in
        [&["dome-rate", "rate=1"][..], &["dome-goto", "azimuth=1"], &["set-point", "77"], &["errand", "1"]]
    {
        let ended = run(&[&["inject", &twin], words].concat());
        assert_eq!(ended.code, Some(2), "{words:?}");
        assert!(ended.err.contains("--arm"), "{words:?}: {}", ended.err);
    }
    let ended = run(&["inject", "udp:127.0.0.1:9", "errand", "77"]);
    assert!(ended.code == Some(2) && ended.err.contains("--open-way"), "{}", ended.err);
    let mut peer = peer(&path, &[]);
    let ended =
        run(&["inject", &path, "dome-rate", "rate=1.5", "--arm", "--every", "20ms", "--for", "100ms"]);
    assert_eq!(ended.code, Some(0), "{}", ended.out);
    assert!(ended.err.contains("functional stop"), "{}", ended.err);
    // The last of a stream of set-points is the stop value.
    peer.line_with("\"rate\":1.5");
    peer.line_with("\"rate\":0");
}

#[test]
fn wrong_on_purpose_is_refused_with_the_rule() {
    let (_folder, path) = folder();
    let mut peer = peer(&path, &[]);
    for (how, rule) in [("fcs", "W-11"), ("cut", "W-11")] {
        let ended = run(&["inject", &path, "lamp", "level=4", "--wrong", how]);
        assert_eq!(ended.code, Some(0), "{}", ended.err);
        let line = peer.line_with("refused");
        assert!(line.contains(rule), "{how}: {line}");
    }
}

#[test]
fn the_own_number_is_kept_and_never_used_twice() {
    let (_folder, path) = folder();
    let _peer = peer(&path, &[]);
    let file = format!("{path}.number");
    std::fs::write(&file, "1000\n").unwrap();
    for expected in [1016_u32, 1032] {
        let ended = run(&["inject", &path, "lamp", "level=4", "--own-number-file", &file]);
        assert_eq!(ended.code, Some(0), "{}", ended.err);
        assert_eq!(std::fs::read_to_string(&file).unwrap().trim().parse(), Ok(expected));
    }
    std::fs::write(&file, "diary").unwrap();
    let ended = run(&["inject", &path, "lamp", "level=4", "--own-number-file", &file]);
    assert_eq!(ended.code, Some(65), "{}", ended.err);
}

#[test]
fn the_demo_is_a_board_like_any_other() {
    let ended = run(&["inject", "demo:", "re-arm", "--arm", "--json"]);
    assert_eq!(ended.code, Some(0), "{}", ended.err);
    assert!(events(&ended.out).contains(&"delivered".to_owned()), "{}", ended.out);
    let ended = run(&["check", "demo:", "--for", "2s", "--json"]);
    assert_eq!(ended.code, Some(0), "{}", ended.out);
    let ended = run(&["peer", "demo:", "--for", "2s", "--json"]);
    assert!(records(&ended.out).iter().any(|record| record["name"] == "dome-state"), "{}", ended.out);
}

#[test]
fn a_log_told_to_be_a_peer_answers_and_shows_both_directions() {
    let (_folder, path) = folder();
    let mut log = Tool::start(&["log", &format!("twin:{path}"), "--peer", "--json", "--for", "20s"]);
    twin_is_there(&path);
    let ended = run(&["inject", &path, "lamp", "level=7"]);
    assert_eq!(ended.code, Some(0), "{}", ended.err);
    let lamp: serde_json::Value = serde_json::from_str(&log.line_with("\"name\":\"lamp\"")).unwrap();
    assert_eq!((&lamp["direction"], &lamp["kind"]), (&"in".into(), &"errand".into()));
    let ended = log.stop();
    assert_eq!(ended.code, Some(0), "{}", ended.err);
    let of = |direction: &str, kind: &str| {
        records(&ended.out)
            .iter()
            .filter(|record| record["direction"] == direction && record["kind"] == kind)
            .count()
    };
    assert!(of("in", "open") > 0 && of("out", "open") > 0 && of("out", "ack") > 0, "{}", ended.out);
}
