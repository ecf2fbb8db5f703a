//! `send-file` and `receive-file`: two processes, a faulty pass-through, and kills in the middle.

use std::{
    fs,
    net::{TcpListener, UdpSocket},
    sync::{
        Arc,
        atomic::{AtomicU64, Ordering},
    },
    thread::sleep,
    time::{Duration, Instant},
};

use crate::tool::{Ended, Tool, folder, run, twin_is_there};

/// Octets that repeat only after a long time (the multiplier of Numerical Recipes' generator).
fn content(len: usize, seed: u32) -> Vec<u8> {
    let step = |state: &mut u32| {
        *state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        Some((*state >> 24) as u8)
    };
    std::iter::repeat_n((), len).scan(seed, |state, ()| step(state)).collect()
}

/// The last JSON record: its word and text.
fn last(ended: &Ended) -> (String, String) {
    let line = ended.out.lines().last().unwrap_or_else(|| panic!("no output: {}", ended.err));
    let record: serde_json::Value = serde_json::from_str(line).unwrap();
    (record["event"].as_str().unwrap().to_owned(), record["text"].as_str().unwrap().to_owned())
}

/// Waits until it is so.
fn until(mut is: impl FnMut() -> bool) {
    let end = Instant::now() + Duration::from_secs(60);
    while !is() {
        assert!(Instant::now() < end, "it never came");
        sleep(Duration::from_millis(5));
    }
}

fn receive(path: &str, to: &str, words: &[&str]) -> Tool {
    let twin = format!("twin:{path}");
    let tool = Tool::start(&[&["receive-file", &twin, to, "--json"], words].concat());
    twin_is_there(path);
    tool
}

#[test]
fn a_file_goes_over_a_pseudo_terminal_and_leaves_nothing_beside_it() {
    let (dir, path) = folder();
    let (from, to) = (format!("{path}.from"), format!("{path}.to"));
    let octets = content(50_001, 1);
    fs::write(&from, &octets).unwrap();
    let receiver = receive(&path, &to, &[]);
    let ended = run(&["send-file", &from, &path]);
    assert_eq!(ended.code, Some(0), "{}{}", ended.out, ended.err);
    // A long sentence is broken to fit the screen.
    let words = ended.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("209 parts sent, 0 of them again"), "{words}");
    assert!(
        ended.err.contains("60 % held by the receiver: 30720 of 50001 octets") && !ended.err.contains('\r'),
        "{}",
        ended.err
    );
    let received = receiver.end();
    assert_eq!((received.code, last(&received).0.as_str()), (Some(0), "received"));
    assert!(fs::read(&to).unwrap() == octets);
    let mut names: Vec<_> = fs::read_dir(dir.path())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    assert_eq!(names, ["dome.from", "dome.to"]);
    // What is there is not overwritten.
    let again = run(&["receive-file", &format!("twin:{path}"), &to]);
    assert_eq!(again.code, Some(2), "{}", again.err);
    assert!(again.err.contains("next:"), "{}", again.err);
}

#[test]
fn the_largest_file_goes_over_tcp() {
    let (_dir, path) = folder();
    let (from, to) = (format!("{path}.from"), format!("{path}.to"));
    let octets = content(16 * 1024 * 1024, 4);
    fs::write(&from, &octets).unwrap();
    let port = TcpListener::bind(("127.0.0.1", 0)).unwrap().local_addr().unwrap().port();
    let receiver = Tool::start(&["receive-file", &format!("await:{port}"), &to, "--json"]);
    let there = format!("tcp:127.0.0.1:{port}");
    let mut ended = None;
    until(|| {
        let run = run(&["send-file", &from, &there, "--part", "1000", "--json"]);
        // 69: the receiver does not listen yet.
        ended = Some(run).filter(|run| run.code != Some(69));
        ended.is_some()
    });
    let ended = ended.expect("just seen");
    assert_eq!(ended.code, Some(0), "{}{}", ended.out, ended.err);
    assert!(last(&ended).1.contains("16778 parts sent, 0 of them again"), "{}", last(&ended).1);
    let received = receiver.end();
    assert_eq!((received.code, last(&received).0.as_str()), (Some(0), "received"));
    assert!(fs::read(&to).unwrap() == octets);
    // One octet more is too large, and said before anything is opened.
    fs::write(&from, content(16 * 1024 * 1024 + 1, 4)).unwrap();
    let ended = run(&["send-file", &from, &there]);
    assert!(ended.code == Some(65) && ended.err.contains("16 MiB"), "{ended:?}");
}

#[test]
fn either_side_refuses_or_ends_it_and_the_other_says_why() {
    let (dir, path) = folder();
    let (from, to) = (format!("{path}.from"), format!("{path}.to"));
    fs::write(&from, content(5000, 2)).unwrap();
    let receiver = receive(&path, &to, &["--largest", "1KiB"]);
    let ended = run(&["send-file", &from, &path, "--json"]);
    assert_eq!(ended.code, Some(1));
    let (word, text) = last(&ended);
    assert!(word == "refused" && text.contains("larger than the receiver takes"), "{word} {text}");
    drop(receiver);
    let _ = fs::remove_file(&path);

    fs::write(&from, content(16_000_000, 2)).unwrap();
    for stop_the_sender in [true, false] {
        let receiver = receive(&path, &to, &[]);
        let mut sender = Tool::start(&["send-file", &from, &path, "--json", "--part", "8"]);
        // Beside the file and the twin: what has come so far.
        until(|| fs::read_dir(dir.path()).unwrap().count() >= 3);
        sender.forget();
        let (sent, received) = if stop_the_sender {
            (sender.stop(), receiver.end())
        } else {
            let received = receiver.stop();
            (sender.end(), received)
        };
        assert_eq!((sent.code, received.code), (Some(1), Some(1)), "{sent:?} {received:?}");
        for ended in [&sent, &received] {
            assert!(last(ended).1.contains("its program ended it"), "{ended:?}");
        }
        assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 1, "nothing is kept");
    }
}

/// Carries datagrams both ways between two ports, and loses, flips or doubles some: one in ten each way.
struct Faulty {
    lost: Arc<AtomicU64>,
    ports: [u16; 4],
}

impl Faulty {
    fn start(seed: u64) -> Self {
        let bind = |port: u16| UdpSocket::bind(("127.0.0.1", port)).unwrap();
        let ends = [bind(0), bind(0)];
        let free = [bind(0), bind(0)];
        let port = |socket: &UdpSocket| socket.local_addr().unwrap().port();
        let ports = [port(&free[0]), port(&ends[0]), port(&ends[1]), port(&free[1])];
        drop(free);
        let lost = Arc::new(AtomicU64::new(0));
        for (way, to) in [(0, ports[3]), (1, ports[0])] {
            let (from, out) = (ends[way].try_clone().unwrap(), ends[1 - way].try_clone().unwrap());
            let lost = Arc::clone(&lost);
            std::thread::spawn(move || {
                let (mut buffer, mut state) = ([0; 2048], seed.wrapping_add(way as u64) | 1);
                while let Ok((len, _)) = from.recv_from(&mut buffer).or_else(|_| from.recv_from(&mut buffer))
                {
                    // xorshift64 (Marsaglia 2003).
                    state ^= state << 13;
                    state ^= state >> 7;
                    state ^= state << 17;
                    sleep(Duration::from_micros(200));
                    let times = match state % 30 {
                        0 => 0,
                        1 => {
                            buffer[len / 2] ^= 0x10;
                            1
                        }
                        2 => 2,
                        _ => 1,
                    };
                    if state % 30 < 2 && way == 0 {
                        lost.fetch_add(1, Ordering::Relaxed);
                    }
                    for _ in 0..times {
                        let _ = out.send_to(&buffer[..len], ("127.0.0.1", to));
                    }
                }
            });
        }
        Self { lost, ports }
    }
}

#[test]
fn killed_on_both_sides_over_a_faulty_link_it_goes_on_and_arrives_whole() {
    let (_dir, path) = folder();
    let (from, to) = (format!("{path}.from"), format!("{path}.to"));
    let octets = content(400_000, 3);
    fs::write(&from, &octets).unwrap();
    let seed = bellwire_tests::seed::seed("killed_on_both_sides");
    let faulty = Faulty::start(seed.value());
    let [a, pa, pb, b] = faulty.ports;
    let (here, there) = (format!("udp:127.0.0.1:{pa}@{a}"), format!("udp:127.0.0.1:{pb}@{b}"));
    let receive = || Tool::start(&["receive-file", &there, &to, "--json"]);
    let send = || Tool::start(&["send-file", &from, &here, "--json"]);

    let (mut receiver, mut sender) = (receive(), send());
    sender.line_with("\"20 % held");
    drop(sender);
    let mut sender = send();
    sender.line_with("\"50 % held");
    receiver.line_with("\"50 % held");
    drop(receiver);
    assert!(fs::metadata(&to).is_err(), "nothing under the final name");
    let receiver = receive();
    let (sent, received) = (sender.end(), receiver.end());
    assert_eq!((sent.code, received.code), (Some(0), Some(0)), "{sent:?}{received:?}");
    assert!(fs::read(&to).unwrap() == octets, "the file is another one");
    let text = last(&sent).1;
    println!("seed {:#x}: {text}; receiver: {}", seed.value(), last(&received).1);
    assert!(text.contains("octets were there already"), "{text}");
    assert!(last(&received).1.contains("octets from an earlier run"));
    let again: u64 = text.split(" parts sent, ").nth(1).unwrap().split(' ').next().unwrap().parse().unwrap();
    // Each part lost goes once more, and so does at most the window that was on its way when the receiver was killed.
    let most = faulty.lost.load(Ordering::Relaxed) + 32;
    assert!(again <= most, "{again} parts again, {most} at most: {text}");
}
