//! Commands that talk with one board of a medium that others share: `--to` at the hub's end, `--address` at a leaf's.

use std::fs;

use crate::{
    hub::{endpoint, medium},
    tool::{Tool, folder, run},
};

#[test]
fn a_file_goes_to_the_leaf_that_is_named_and_to_no_other() {
    let (_dir, path) = folder();
    let from = format!("{path}.from");
    let octets: Vec<u8> = (0..20_000_u32).map(|at| at.wrapping_mul(0x9E37_79B1).to_le_bytes()[3]).collect();
    fs::write(&from, &octets).unwrap();
    let ports = medium(3);
    let [desk, mast, porch] = [0, 1, 2].map(|place| endpoint(ports[place]));
    let to = |name: &str| format!("{path}.{name}");
    let receive = |ours: &str, name: &str, wait: &str| {
        Tool::start(&["receive-file", ours, &to(name), "--address", name, "--wait", wait, "--json"])
    };
    let (mast, porch) = (receive(&mast, "mast", "3s"), receive(&porch, "porch", "30s"));
    // A receiver may not listen yet: what is lost meanwhile goes again.
    let sent = run(&["send-file", &from, &desk, "--to", "porch", "--json"]);
    assert_eq!(sent.code, Some(0), "{}{}", sent.out, sent.err);
    let (mast, porch) = (mast.end(), porch.end());
    assert_eq!(porch.code, Some(0), "{}", porch.err);
    assert!(fs::read(to("porch")).unwrap() == octets, "the file is another one");
    assert_eq!(mast.code, Some(69), "{}", mast.err);
    assert!(fs::metadata(to("mast")).is_err());
}

#[test]
fn who_names_nobody_on_a_shared_medium_is_told() {
    let (_dir, path) = folder();
    let from = format!("{path}.from");
    fs::write(&from, "rain").unwrap();
    let ports = medium(2);
    let (desk, porch) = (endpoint(ports[0]), endpoint(ports[1]));
    let mut peer = Tool::start(&["peer", &porch, "--address", "porch", "--json"]);
    peer.line_with("\"note\"");
    let sent = run(&["send-file", &from, &desk, "--wait", "3s"]);
    assert!(sent.err.contains("nobody took it") && sent.err.contains("--to"), "{}", sent.err);
    let checked = run(&["check", &desk, "--for", "3s"]);
    assert!(checked.out.contains("name the leaf to probe with --to"), "{}", checked.out);
    assert!(!checked.out.contains("TX"), "no wires hang on datagrams: {}", checked.out);
}

#[test]
fn a_leaf_is_probed_by_name() {
    let ports = medium(3);
    let [desk, mast, porch] = [0, 1, 2].map(|place| endpoint(ports[place]));
    let mut peers = [(&mast, "mast"), (&porch, "porch")]
        .map(|(ours, name)| Tool::start(&["peer", ours, "--address", name, "--json"]));
    peers.iter_mut().for_each(|peer| drop(peer.line_with("\"note\"")));
    let checked = run(&["check", &desk, "--to", "porch", "--for", "3s", "--json"]);
    assert_eq!(checked.code, Some(0), "{}{}", checked.out, checked.err);
    let told: serde_json::Value = serde_json::from_str(&checked.out).unwrap();
    assert_eq!((&told["result"], &told["to"]), (&"both-ways".into(), &"porch".into()), "{told}");
    let gone = run(&["check", &desk, "--to", "9", "--for", "1s"]);
    assert_ne!(gone.code, Some(0), "leaf 9 is not there: {}", gone.out);
    assert!(gone.out.contains("Is that its address?"), "{}", gone.out);
}

#[test]
fn a_message_of_another_board_is_not_sent() {
    for words in [
        &["inject", "udp:127.0.0.1:9", "--to", "mast", "lamp", "level=40"][..],
        &["inject", "udp:127.0.0.1:9", "--to", "mast", "errand", "9", "--payload", "28"],
        &["inject", "udp:127.0.0.1:9", "--to", "3", "lamp", "level=40", "--lone"],
    ] {
        let ended = run(words);
        assert_eq!(ended.code, Some(2), "{words:?}: {}", ended.err);
        assert!(
            ended.err.contains("lamp is a message of porch, and --to names mast"),
            "{words:?}: {}",
            ended.err
        );
        assert!(ended.err.contains("--to porch"), "{words:?}: {}", ended.err);
    }
    let ended =
        run(&["inject", "udp:127.0.0.1:9", "--to", "porch", "dome-goto", "azimuth=1", "--arm", "--open-way"]);
    assert_eq!(ended.code, Some(2), "{}", ended.err);
    assert!(ended.err.contains("dome has no address on this medium"), "{}", ended.err);
    for (to, wanted) in [("300", "give an address from 1 to 250"), ("dome", "there is no leaf `dome`")] {
        for words in [
            &["send-file", env!("CARGO_MANIFEST_PATH"), "udp:127.0.0.1:9", "--to", to][..],
            &["check", "udp:127.0.0.1:9", "--to", to],
        ] {
            let ended = run(words);
            assert_eq!(ended.code, Some(2), "{words:?}: {}", ended.err);
            assert!(
                ended.err.contains(wanted) && !ended.err.contains("checking"),
                "{words:?}: {}",
                ended.err
            );
        }
    }
    let raw = run(&["inject", "udp:127.0.0.1:9", "--raw", "00 a1"]);
    assert!(raw.code == Some(2) && raw.err.contains("--open-way"), "{}", raw.err);
    let empty = run(&["send-file", "/dev/null", "udp:127.0.0.1:9"]);
    assert!(empty.err.contains("an empty file has nothing to send"), "{}", empty.err);
}

/// A leaf that is on one of two media is missing on none, and the list comes once all have been heard.
#[test]
fn a_roster_of_two_media_misses_nobody_who_is_on_one() {
    let media = [medium(2), medium(2)];
    let desks = [0, 1].map(|place: usize| endpoint(media[place][0]));
    let _leaves = [("mast", 0), ("porch", 1)].map(|(name, place): (_, usize)| {
        Tool::start(&["peer", &endpoint(media[place][1]), "--address", name])
    });
    let ended = run(&["roster", &desks[0], &desks[1], "--ask", "mast,porch", "--json"]);
    assert_eq!(ended.code, Some(0), "{}{}", ended.out, ended.err);
    let leaves: Vec<serde_json::Value> =
        ended.out.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    let heard: Vec<_> = leaves.iter().map(|leaf| (leaf["port"].as_u64(), leaf["address"].as_u64())).collect();
    assert_eq!(heard, [(Some(0), Some(3)), (Some(1), Some(4))], "{}", ended.out);
}

/// A recording of the demo: boards of the radio are named, and the sum says how many records pass.
#[test]
fn boards_are_named_where_a_recording_is_read() {
    let (_dir, path) = folder();
    let night = format!("{path}.pcapng");
    assert_eq!(run(&["log", "demo:fast", "--for", "12s", "-o", &night]).code, Some(0));
    let frames = |address: &str| -> Vec<serde_json::Value> {
        let shown = run(&["decode", &night, "--address", address, "--record", "frame", "--json"]);
        let records = shown.out.lines().map(|line| serde_json::from_str(line).unwrap());
        records.filter(|record: &serde_json::Value| record["record"] == "frame").collect()
    };
    let mast = frames("mast");
    assert!(mast.len() > 5 && mast.iter().all(|frame| frame["to"] == 3 || frame["from"] == 3), "{mast:?}");
    assert_eq!(frames("3"), mast);
    assert!(frames("desk").len() > mast.len(), "and the porch's");
    let unknown = run(&["decode", &night, "--address", "msat"]);
    assert!(unknown.code == Some(2) && unknown.err.contains("did you mean 'mast'"), "{}", unknown.err);
    let sum = run(&["decode", &night, "--address", "mast", "--record", "frame", "--sum"]);
    assert!(sum.out.contains(&format!("{} records passed the filter", mast.len())), "{}", sum.out);
}
