//! A computer without a radio: what `bellwire` says and shows through a radio board on its UART.

use std::{
    fs::File,
    io::{Read, Write},
    sync::{Arc, Mutex},
};

use bellwire::{
    fcs::Fcs16,
    frame::{Read as Found, Reader},
    framing::{Air, Cobs, air},
};

use crate::tool::{Tool, folder, open_twin, run, twin_is_there};

/// Radio boards on pseudo-terminals: what one is told to send, the others hear at -71 dBm. The first datagram is not sent: the air is busy.
fn radio_boards(ends: &[&str]) {
    let twins: Vec<_> = ends.iter().map(|end| open_twin(end)).collect();
    let busy = Arc::new(Mutex::new(true));
    for end in 0..twins.len() {
        let clone = |twin: &File| twin.try_clone().unwrap();
        let mut own = clone(&twins[end]);
        let mut others: Vec<_> = twins
            .iter()
            .enumerate()
            .filter(|(other, _)| *other != end)
            .map(|(_, twin)| clone(twin))
            .collect();
        let busy = Arc::clone(&busy);
        std::thread::spawn(move || {
            let mut uart = Reader::<Cobs, Fcs16, 1040>::new(Cobs);
            let mut buffer = [0; 4096];
            while let Ok(len @ 1..) = own.read(&mut buffer) {
                let mut rest = &buffer[..len];
                while !rest.is_empty() {
                    let (taken, found) = uart.feed(rest);
                    rest = &rest[taken..];
                    let Some(Found::Refused { octets, .. }) = found else { continue };
                    let Ok(Air::Send { datagram }) = Air::read(octets) else { panic!("{octets:02X?}") };
                    let tail = air::tail_of(datagram);
                    if std::mem::take(&mut *busy.lock().unwrap()) {
                        say(&mut own, Air::NotSent { why: bellwire::framing::NotSent::Busy, tail });
                        continue;
                    }
                    say(&mut own, Air::Sent { at: 1_000, tail });
                    for other in &mut others {
                        say(other, Air::Heard { at: 2_000, strength: Some(-71), datagram });
                    }
                }
            }
        });
    }
}

fn say(uart: &mut File, air: Air<'_>) {
    let mut wire = [0; 1100];
    let len = air.encode(&mut wire).unwrap();
    let _ = uart.write_all(&wire[..len]);
}

const RADIO: [&str; 2] = ["--framing", "radio-board"];

#[test]
fn an_errand_through_two_radio_boards_is_delivered() {
    let ((_one, porch), (_two, desk)) = (folder(), folder());
    let [porch_twin, desk_twin] = [&porch, &desk].map(|path| format!("twin:{path}"));
    let mut peer = Tool::start(&[&["peer", &porch_twin, "--json"], &RADIO[..]].concat());
    let inject =
        Tool::start(&[&["inject", &desk_twin, "lamp", "level=40", "--wait", "20s"], &RADIO[..]].concat());
    twin_is_there(&porch);
    twin_is_there(&desk);
    radio_boards(&[&porch, &desk]);
    let ended = inject.end();
    assert_eq!(ended.code, Some(0), "{}{}", ended.out, ended.err);
    assert!(ended.out.contains("delivered"), "{}", ended.out);
    let line = peer.line_with("\"name\":\"lamp\"");
    assert!(line.contains("\"level\":40"), "{line}");
}

#[test]
fn a_log_shows_direction_strength_and_time_of_each_datagram() {
    let (_folder, path) = folder();
    let twin = format!("twin:{path}");
    let mut log = Tool::start(&[&["log", &twin, "--json"], &RADIO[..]].concat());
    twin_is_there(&path);
    let mut board = open_twin(&path);
    // NOTICE of session 0 with tag 0, number 0: log-line "rain". The FCS by the bitwise definition of RFC 1662 C.2, in Python.
    let datagram = [0xC0, 0, 0, 0, 10, 4, b'r', b'a', b'i', b'n', 0x7C, 0x90];
    say(&mut board, Air::Heard { at: 7_000_001, strength: Some(-93), datagram: &datagram });
    say(&mut board, Air::Heard { at: 8_000_000, strength: None, datagram: &datagram[..9] });
    let frame: serde_json::Value = serde_json::from_str(&log.line_with("\"frame\"")).unwrap();
    assert_eq!((&frame["air"], &frame["strength"]), (&"heard".into(), &(-93).into()), "{frame}");
    assert_eq!(
        (&frame["board_us"], &frame["values"]["text"]),
        (&7_000_001.into(), &"rain".into()),
        "{frame}"
    );
    let reject: serde_json::Value = serde_json::from_str(&log.line_with("\"reject\"")).unwrap();
    assert_eq!((&reject["rule"], &reject["board_us"]), (&"W-11".into(), &8_000_000.into()), "{reject}");
    assert!(reject.get("strength").is_none(), "{reject}");
}

#[test]
fn what_moves_something_is_not_sent_over_an_open_way() {
    for words in [
        &["inject", "/dev/null", "dome-goto", "azimuth=1", "--arm"][..],
        &["inject", "/dev/null", "set-point", "77", "--arm"],
        &["inject", "/dev/null", "errand", "77", "--lone"],
        &["steer", "/dev/null", "--arm"],
    ] {
        let ended = run(&[words, &RADIO[..]].concat());
        assert_eq!(ended.code, Some(2), "{words:?}: {}", ended.err);
        assert!(ended.err.contains("W-67") && ended.err.contains("--open-way"), "{words:?}: {}", ended.err);
        assert_eq!(ended.out, "", "{words:?}");
    }
    // With both words it is tried; nobody is there.
    let words = ["inject", "twin:/tmp/no-such-folder/x", "dome-goto", "azimuth=1", "--arm", "--open-way"];
    assert_ne!(run(&[&words[..], &RADIO[..]].concat()).code, Some(2));
}

/// A star of processes: the hub, the mast (3) and the porch (4), each with a radio board.
struct Star {
    _folders: Vec<tempfile::TempDir>,
    hub: Tool,
    leaves: [Tool; 2],
}

impl Star {
    /// The hub is the tool with these words, in which HERE stands for its endpoint.
    fn of(hub: &[&str]) -> Self {
        let (folders, paths): (Vec<_>, Vec<_>) = (0..3).map(|_| folder()).unzip();
        let start = |path: &String, words: &[&str]| {
            let twin = format!("twin:{path}");
            let words: Vec<_> =
                words.iter().map(|word| if *word == "HERE" { twin.as_str() } else { word }).collect();
            let tool = Tool::start(&[&words[..], &RADIO[..]].concat());
            twin_is_there(path);
            tool
        };
        let leaves = [(0, "mast"), (1, "4")].map(|(place, leaf)| {
            let identity = format!("0xAB0{place}");
            start(&paths[place], &["peer", "HERE", "--json", "--address", leaf, "--identity", &identity])
        });
        let hub = start(&paths[2], hub);
        radio_boards(&paths.iter().map(String::as_str).collect::<Vec<_>>());
        Self { _folders: folders, hub, leaves }
    }
}

#[test]
fn one_of_several_leaves_gets_what_is_for_it() {
    let star = Star::of(&["inject", "HERE", "lamp", "level=40", "--to", "porch", "--wait", "20s", "--json"]);
    let ended = star.hub.end();
    assert_eq!(ended.code, Some(0), "{}{}", ended.out, ended.err);
    assert!(ended.out.contains("\"delivered\""), "{}", ended.out);
    let [mast, mut porch] = star.leaves;
    porch.line_with("\"name\":\"lamp\"");
    let mast = mast.stop();
    assert!(!mast.out.contains("\"record\":\"frame\"") && !mast.out.contains("opened"), "{}", mast.out);
}

#[test]
fn a_roster_lists_who_answers_and_who_does_not() {
    let star = Star::of(&["roster", "HERE", "--ask", "mast,porch,9", "--json"]);
    let ended = star.hub.end();
    assert_eq!(ended.code, Some(1), "leaf 9 is not there: {}{}", ended.out, ended.err);
    let leaves: Vec<serde_json::Value> =
        ended.out.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    let told: Vec<_> = leaves
        .iter()
        .map(|leaf| {
            (
                leaf["address"].as_u64().unwrap(),
                leaf["board"].as_str().unwrap(),
                leaf["how"].as_str().unwrap(),
            )
        })
        .collect();
    assert_eq!(told, [(3, "mast", "both-ways"), (4, "porch", "both-ways"), (9, "leaf 9", "never")]);
    // Both open anew all the time, and so say who they are.
    let identities: Vec<_> = leaves.iter().map(|leaf| leaf["identity"].as_str()).collect();
    assert_eq!(identities, [Some("000000000000ab00"), Some("000000000000ab01"), None]);
    assert_eq!((&leaves[0]["strength_in"], &leaves[0]["asked"]), (&(-71).into(), &true.into()));
}

#[test]
fn a_leaf_that_the_agreement_does_not_know_is_refused_with_those_it_knows() {
    for words in [
        &["inject", "/dev/null", "lamp", "level=1", "--to", "proch"][..],
        &["roster", "/dev/null", "--ask", "proch"],
        &["peer", "/dev/null", "--address", "proch"],
    ] {
        let ended = run(words);
        assert_eq!(ended.code, Some(2), "{words:?}: {}", ended.err);
        assert!(
            ended.err.contains("did you mean 'porch'") && ended.err.contains("mast (3)"),
            "{}",
            ended.err
        );
    }
    assert_eq!(run(&["inject", "/dev/null", "lamp", "level=1", "--to", "251"]).code, Some(2));
}

/// The desk's radio board reaches both leaves, each through one of its own.
#[test]
fn a_hub_by_radio_has_two_leaves_at_once() {
    let ((_one, desk), (_two, porch), (_three, mast)) = (folder(), folder(), folder());
    let twin = |path: &str| format!("twin:{path}");
    let mut log = Tool::start(&[&["log", &twin(&desk), "--hub", "--json"], &RADIO[..]].concat());
    let leaves = [("porch", &porch), ("mast", &mast)].map(|(name, path)| {
        Tool::start(&[&["peer", &twin(path), "--address", name, "--json"], &RADIO[..]].concat())
    });
    for path in [&desk, &porch, &mast] {
        twin_is_there(path);
    }
    radio_boards(&[&desk, &porch, &mast]);
    for mut leaf in leaves {
        leaf.line_with("\"opened\"");
    }
    log.line_with("is on the roster: ");
    log.line_with("is on the roster: ");
    let ended = log.stop();
    assert_eq!(ended.code, Some(0), "{}", ended.err);
    assert!(ended.out.contains("porch, leaf 4") && ended.out.contains("mast, leaf 3"), "{}", ended.out);
}
