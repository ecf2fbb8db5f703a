//! Every exit code is produced, and says what it should; help, completions and manual pages; closed pipes.

use std::process::{Command, Stdio};

use bellwire_cli::exit::Exit;

use crate::tool::{Tool, folder, run, twin_is_there};

fn code(words: &[&str]) -> Option<i32> {
    run(words).code
}

#[test]
fn every_exit_code_is_produced() {
    let (_folder, path) = folder();
    let twin = format!("twin:{path}");
    let text = format!("{path}.txt");
    std::fs::write(&text, "diary").unwrap();
    let peer = format!("{path}.peer");
    let _peer = Tool::start(&["peer", &format!("twin:{peer}"), "--fingerprint", "1"]);
    twin_is_there(&peer);
    let full = Command::new(env!("CARGO_BIN_EXE_bellwire"))
        .args(["completions", "bash"])
        .stdout(std::fs::File::create("/dev/full").unwrap())
        .stderr(Stdio::null())
        .status()
        .unwrap();
    let mut seen = vec![
        (Exit::Good, code(&["--version"])),
        (Exit::NotGood, code(&["check", &twin, "--for", "100ms"])),
        (Exit::Usage, code(&["log"])),
        (Exit::BadInput, code(&["replay", &text, &twin])),
        (Exit::Unavailable, code(&["check", "/dev/no-such-device"])),
        (Exit::Io, full.code()),
        (Exit::Mismatch, code(&["inject", &peer, "lamp", "level=1", "--fingerprint", "2", "--wait", "20s"])),
        // No file can be made there, not even by root.
        (Exit::Permission, code(&["man", "--to", "/dev/pts"])),
    ];
    for exit in Exit::ALL {
        let (_, code) = seen.remove(0);
        assert_eq!(code, Some(i32::from(exit.code())), "{exit:?}");
    }
}

#[test]
fn errors_say_what_where_and_what_next_and_leave_the_output_empty() {
    let ended = run(&["inject", "/dev/no-such-device", "lamp", "level=1"]);
    assert_eq!(ended.out, "");
    let lines: Vec<_> = ended.err.lines().collect();
    assert!(lines[0].starts_with("bellwire: ") && lines[0].contains("no-such-device"), "{}", ended.err);
    assert!(lines.iter().any(|line| line.starts_with("  next:  ")), "{}", ended.err);
    assert!(!ended.err.contains('\u{1b}'), "no colours: {}", ended.err);
}

#[test]
fn inputs_that_are_no_capture_are_named_with_what_to_do_next() {
    let (folder, path) = folder();
    // Magic numbers of pcap: times in µs and ns, either byte order; then version 2.4.
    for magic in [0xA1B2_C3D4_u32, 0xA1B2_3C4D].map(|it| [it.to_le_bytes(), it.to_be_bytes()]).concat() {
        let file = format!("{path}.pcap");
        std::fs::write(&file, [&magic[..], &[2, 0, 4, 0], &[0; 200]].concat()).unwrap();
        for words in [&["decode", &file][..], &["decode", &file, "--as", "capture"], &["log", &file]] {
            let ended = run(words);
            assert_eq!((ended.code, ended.out.as_str()), (Some(65), ""), "{words:?}: {}", ended.err);
            assert!(ended.err.contains("pcap,") && ended.err.contains("again as pcapng"), "{}", ended.err);
        }
        assert_eq!(code(&["decode", &file, "--as", "octets"]), Some(0), "asked for, they are octets");
    }
    let ended = run(&["decode", folder.path().to_str().unwrap()]);
    assert_eq!((ended.code, ended.out.as_str()), (Some(65), ""), "{}", ended.err);
    assert!(ended.err.contains("folder") && ended.err.contains("next:"), "{}", ended.err);
}

#[test]
fn a_tiny_rotation_is_refused_with_the_least_and_complaints_fit_the_screen() {
    let ended = run(&["log", "demo:fast", "-o", "night.pcapng", "--rotate", "10kB"]);
    assert!(ended.code == Some(2) && ended.err.contains("the least is 100kB"), "{}", ended.err);
    let long = "x".repeat(60);
    for words in [
        &["log", "demo:", "--rate", &long][..],
        &["decode", "x", "--sheet", "lamp", "--json", "--csv", "--hex", "--sum"],
        &["decode", "x", "--record", &long],
        &["generate", "x"],
    ] {
        let ended = run(words);
        assert_eq!(ended.code, Some(2), "{words:?}");
        assert!(ended.err.lines().all(|line| line.chars().count() <= 80), "{}", ended.err);
    }
}

#[test]
fn a_closed_pipe_is_the_quiet_end() {
    for words in [
        &["completions", "bash"][..],
        &["--help"],
        &["man"],
        &["check", "twin:/tmp/bellwire-closed", "--for", "50ms"],
    ] {
        let mut child = Command::new(env!("CARGO_BIN_EXE_bellwire"))
            .args(words)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        drop(child.stdout.take());
        let ended = child.wait_with_output().unwrap();
        let err = String::from_utf8(ended.stderr).unwrap();
        assert_eq!(ended.status.code(), Some(0), "{words:?}: {err}");
        assert!(!err.contains("panic") && !err.contains("pipe"), "{words:?}: {err}");
    }
}

#[test]
fn a_peer_whose_reader_goes_away_ends_quietly() {
    let (_folder, path) = folder();
    let mut child = Command::new(env!("CARGO_BIN_EXE_bellwire"))
        .args(["peer", &format!("twin:{path}")])
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    twin_is_there(&path);
    // Its first record finds nobody to read it.
    run(&["inject", &path, "lamp", "level=1", "--wait", "2s"]);
    assert_eq!(child.wait().unwrap().code(), Some(0));
}

#[test]
fn the_signal_to_end_is_heard() {
    let (_folder, path) = folder();
    let tool = Tool::start(&["peer", &format!("twin:{path}")]);
    twin_is_there(&path);
    let ended = tool.stop();
    assert_eq!(ended.code, Some(0));
    assert!(ended.err.contains("0 messages"), "{}", ended.err);
    assert!(std::fs::symlink_metadata(&path).is_err(), "the twin is tidied away");
}

#[test]
fn completions_and_manual_pages_know_every_command() {
    let commands = ["log", "decode", "ports", "tap", "peer", "inject", "steer", "replay", "check"];
    for shell in ["bash", "zsh", "fish"] {
        let script = run(&["completions", shell]).out;
        assert!(commands.iter().all(|command| script.contains(command)), "{shell}");
    }
    let folder = tempfile::tempdir().unwrap();
    let ended = run(&["man", "--to", folder.path().to_str().unwrap()]);
    assert_eq!(ended.code, Some(0), "{}", ended.err);
    for command in commands {
        let page = std::fs::read_to_string(folder.path().join(format!("bellwire-{command}.1"))).unwrap();
        assert!(page.contains(".SH EXAMPLES") && page.contains(".SH \"EXIT STATUS\""), "{command}: {page}");
    }
    assert!(run(&["man"]).out.contains(".SH ENDPOINTS"));
}
