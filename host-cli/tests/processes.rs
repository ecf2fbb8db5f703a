//! `bellwire` as a process over pseudo-terminals: pipes that close, signals, kills, unplugging, size limits, taps.

use std::{
    fs::{self, File, OpenOptions},
    io::{BufRead, BufReader, Read, Write},
    os::unix::fs::symlink,
    path::Path,
    process::{Child, ChildStdout, Command, Output, Stdio},
    sync::{
        Arc,
        atomic::{AtomicBool, AtomicUsize, Ordering},
    },
    time::{Duration, Instant},
};

use bellwire_cli::capture::{Reader, Record, Tail};
use bellwire_cli::endpoint::Direction;
use rustix::{
    pty::{OpenptFlags, openpt, ptsname, unlockpt},
    termios::{OptionalActions, tcgetattr, tcsetattr},
};

/// Far more than anything here takes; reached only by a failure.
const PATIENCE: Duration = Duration::from_secs(120);

fn bellwire() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_bellwire"));
    command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
    command
}

fn wait_until(what: &str, mut there: impl FnMut() -> bool) {
    let start = Instant::now();
    while !there() {
        assert!(start.elapsed() < PATIENCE, "{what}");
        std::thread::sleep(Duration::from_millis(2));
    }
}

/// Opens the other side of a twin as soon as it is there.
fn user(path: &str) -> File {
    wait_until("the twin is there", || fs::metadata(path).is_ok());
    OpenOptions::new().read(true).write(true).open(path).unwrap()
}

fn signal(child: &Child, name: &str) {
    let done = Command::new("kill").arg(format!("-{name}")).arg(child.id().to_string()).status().unwrap();
    assert!(done.success());
}

fn end(child: Child) -> (Output, String, String) {
    let output = child.wait_with_output().unwrap();
    let [out, err] = [&output.stdout, &output.stderr].map(|text| String::from_utf8_lossy(text).into_owned());
    (output, out, err)
}

fn lines(child: &mut Child) -> BufReader<ChildStdout> {
    BufReader::new(child.stdout.take().unwrap())
}

/// The next line that says so.
fn line_with(lines: &mut impl BufRead, part: &str) -> String {
    let mut line = String::new();
    loop {
        line.clear();
        assert!(lines.read_line(&mut line).unwrap() > 0, "the output ended before {part}");
        if line.contains(part) {
            return line;
        }
    }
}

/// Octets of a capture by direction, and how it ends.
fn captured(path: &Path) -> ([Vec<u8>; 2], usize, Tail) {
    let octets = fs::read(path).unwrap();
    let mut reader = Reader::new(octets.as_slice()).unwrap();
    let (mut found, mut gaps) = ([Vec::new(), Vec::new()], 0);
    loop {
        match reader.read().unwrap() {
            Record::Chunk { direction: Direction::In, octets, .. } => found[0].extend_from_slice(octets),
            Record::Chunk { octets, .. } => found[1].extend_from_slice(octets),
            Record::Gap(_) => gaps += 1,
            Record::Note(_) => {}
            Record::End(tail) => return (found, gaps, tail),
        }
    }
}

#[test]
fn a_reader_that_goes_away_ends_the_log_quietly() {
    let mut child = bellwire().args(["log", "-"]).stdin(Stdio::piped()).spawn().unwrap();
    let mut stdin = child.stdin.take().unwrap();
    let mut out = lines(&mut child);
    stdin.write_all(b"dome\n\0").unwrap();
    line_with(&mut out, "dome");
    drop(out);
    // It notices at its next line.
    let start = Instant::now();
    while child.try_wait().unwrap().is_none() {
        assert!(start.elapsed() < PATIENCE);
        let _ = stdin.write_all(b"dome\n\0");
        std::thread::sleep(Duration::from_millis(5));
    }
    let (output, _, err) = end(child);
    assert_eq!(output.status.code(), Some(0), "{err}");
    assert!(err.starts_with("listening to -") && err.lines().count() == 1, "{err}");
}

#[test]
fn a_signal_ends_the_log_with_the_sum_and_the_twin_with_its_link() {
    let place = tempfile::tempdir().unwrap();
    let path = place.path().join("dome").display().to_string();
    for name in ["INT", "TERM"] {
        let mut child = bellwire().args(["log", &format!("twin:{path}")]).spawn().unwrap();
        let mut out = lines(&mut child);
        user(&path).write_all(b"dome\n\0").unwrap();
        line_with(&mut out, "dome");
        signal(&child, name);
        line_with(&mut out, "Sum");
        let mut rest = String::new();
        out.read_to_string(&mut rest).unwrap();
        let (output, _, err) = end(child);
        assert_eq!(output.status.code(), Some(0), "{err}");
        assert!(fs::symlink_metadata(&path).is_err());
    }
}

#[test]
fn whatever_was_shown_outlives_a_kill() {
    let seed = bellwire_tests::seed::seed("whatever_was_shown_outlives_a_kill");
    let mut state = seed.value() | 1;
    let mut random = move || {
        // xorshift64, after Marsaglia 2003.
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        state
    };
    let place = tempfile::tempdir().unwrap();
    for turn in 0..8 {
        // A link of its own: that of the one killed before may by now lead to another program's pseudo-terminal.
        let path = place.path().join(format!("dome{turn}")).display().to_string();
        let file = place.path().join(format!("night{turn}.pcapng"));
        let mut child =
            bellwire().args(["log", &format!("twin:{path}"), "--json", "-o"]).arg(&file).spawn().unwrap();
        let mut out = lines(&mut child);
        let mut board = user(&path);
        let feeder = std::thread::spawn(move || {
            for number in 0_u64.. {
                if board.write_all(format!("line {number}\n\0").as_bytes()).is_err() {
                    return;
                }
            }
        });
        let shown = 1 + random() % 300;
        let mut last = String::new();
        for _ in 0..shown {
            last = line_with(&mut out, "\"line ");
        }
        child.kill().unwrap();
        child.wait().unwrap();
        feeder.join().unwrap();
        let ([octets, _], _, _) = captured(&file);
        let text = String::from_utf8(octets).unwrap();
        let number: u64 = last.split("line ").nth(1).unwrap().split('\\').next().unwrap().parse().unwrap();
        let kept = text.split('\0').take_while(|line| line.ends_with('\n')).count() as u64;
        assert!(kept > number, "shown up to {number}, kept {kept} lines");
        for (wanted, line) in text.split('\0').take(usize::try_from(kept).unwrap()).enumerate() {
            assert_eq!(line, format!("line {wanted}\n"));
        }
    }
}

/// A device that can be pulled out and put back; no process started meanwhile inherits it.
fn plug_in(path: &Path) -> File {
    let board = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).unwrap();
    unlockpt(&board).unwrap();
    let mut settings = tcgetattr(&board).unwrap();
    settings.make_raw();
    tcsetattr(&board, OptionalActions::Now, &settings).unwrap();
    let name = ptsname(&board, Vec::new()).unwrap().into_string().unwrap();
    let _ = fs::remove_file(path);
    symlink(name, path).unwrap();
    File::from(board)
}

#[test]
fn an_unplugged_device_is_logged_as_a_gap_and_heard_again() {
    let place = tempfile::tempdir().unwrap();
    let (path, file) = (place.path().join("ttyDome0"), place.path().join("night.pcapng"));
    let mut board = plug_in(&path);
    let mut child = bellwire().arg("log").arg(&path).args(["--json", "-o"]).arg(&file).spawn().unwrap();
    let mut out = lines(&mut child);
    wait_until("the recording has begun", || file.exists());
    let mut heard = false;
    let start = Instant::now();
    // Octets that come before the device is open are the system's to keep or not.
    let reader = std::thread::spawn(move || {
        line_with(&mut out, "before");
        out
    });
    while !heard {
        assert!(start.elapsed() < PATIENCE);
        board.write_all(b"before\n\0").unwrap();
        std::thread::sleep(Duration::from_millis(10));
        heard = reader.is_finished();
    }
    let mut out = reader.join().unwrap();
    fs::remove_file(&path).unwrap();
    drop(board);
    line_with(&mut out, "\"gap\"");
    let mut board = plug_in(&path);
    line_with(&mut out, "\"gap\"");
    board.write_all(b"after\n\0").unwrap();
    line_with(&mut out, "after");
    signal(&child, "INT");
    line_with(&mut out, "\"sum\"");
    let (output, _, err) = end(child);
    assert_eq!(output.status.code(), Some(0), "{err}");
    let ([octets, _], gaps, tail) = captured(&file);
    assert!(octets.starts_with(b"before\n\0") && octets.ends_with(b"after\n\0"));
    assert_eq!((gaps, tail), (2, Tail::Whole));
}

#[test]
fn a_file_that_may_not_grow_is_an_error_and_stays_whole() {
    let place = tempfile::tempdir().unwrap();
    let file = place.path().join("night.pcapng");
    // A size limit stands for a full disk: 8 blocks of 512 or 1024 octets, as the shell counts.
    let mut child = Command::new("sh")
        .args(["-c", "ulimit -f 8; exec \"$0\" log - -o \"$1\"", env!("CARGO_BIN_EXE_bellwire")])
        .arg(&file)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut stdin = child.stdin.take().unwrap();
    let feeder = std::thread::spawn(move || {
        let mut fed = Vec::new();
        for number in 0..20_000 {
            let line = format!("line {number}\n\0");
            if stdin.write_all(line.as_bytes()).is_err() {
                break;
            }
            fed.extend_from_slice(line.as_bytes());
        }
        fed
    });
    let (output, out, err) = end(child);
    let fed = feeder.join().unwrap();
    assert_eq!(output.status.code(), Some(74), "{err}");
    assert!(err.contains("may not grow") && err.contains("octets are saved, all of them intact"), "{err}");
    assert!(out.contains("Sum"));
    let ([octets, _], _, tail) = captured(&file);
    assert_eq!(tail, Tail::Whole);
    assert!(fed.starts_with(&octets));
    assert!(fs::metadata(&file).unwrap().len() <= 8192);
}

#[test]
fn who_holds_a_device_is_named() {
    let place = tempfile::tempdir().unwrap();
    let path = place.path().join("ttyDome0");
    let _board = plug_in(&path);
    let mut holder = bellwire().arg("log").arg(&path).spawn().unwrap();
    let device = path.canonicalize().unwrap();
    let fds = format!("/proc/{}/fd", holder.id());
    wait_until("the holder has it open", || {
        let open = fs::read_dir(&fds).into_iter().flatten().flatten();
        open.filter(|fd| fs::read_link(fd.path()).is_ok_and(|target| target == device)).count() >= 2
    });
    // Its lock is taken right after it is opened.
    let mut told = String::new();
    wait_until("the holder is named", || {
        let (output, _, err) = end(bellwire().args(["log", "--for", "1ms"]).arg(&path).spawn().unwrap());
        told = err;
        output.status.code() == Some(69)
    });
    assert!(told.contains(&format!("process {}", holder.id())) && told.contains("bellwire"), "{told}");
    holder.kill().unwrap();
    holder.wait().unwrap();
}

#[test]
fn a_tap_passes_on_both_ways_and_records_one_line_with_two_directions() {
    let place = tempfile::tempdir().unwrap();
    let (device, program) = (place.path().join("ttyDome0"), place.path().join("dome"));
    let file = place.path().join("night.pcapng");
    let mut board = plug_in(&device);
    let twin = format!("twin:{}", program.display());
    let mut child = bellwire().arg("tap").arg(&device).arg(&twin).arg("-o").arg(&file).spawn().unwrap();
    let mut shown = BufReader::new(child.stdout.take().unwrap());
    let mut out = String::new();
    let octets: Vec<u8> = (0..=255).collect();
    let program = program.display().to_string();
    for turn in 0..2 {
        let mut mine = user(&program);
        mine.write_all(&octets).unwrap();
        let mut read = vec![0; octets.len()];
        board.read_exact(&mut read).unwrap();
        assert_eq!(read, octets, "turn {turn}");
        board.write_all(&octets).unwrap();
        mine.read_exact(&mut read).unwrap();
        assert_eq!(read, octets, "turn {turn}");
        drop(mine);
        // The next user opens only after the tap has seen this one go, which it logs.
        while !out.contains("closed by the program") {
            assert_ne!(shown.read_line(&mut out).unwrap(), 0, "{out}");
        }
        out.clear();
    }
    signal(&child, "INT");
    shown.read_to_string(&mut out).unwrap();
    let (output, _, err) = end(child);
    assert_eq!(output.status.code(), Some(0), "{err}");
    assert!(out.contains("Delay added in passing on:"), "{out}");
    let (found, _, tail) = captured(&file);
    assert_eq!(tail, Tail::Whole);
    assert_eq!(found, [octets.repeat(2), octets.repeat(2)]);
}

/// Whoever looks at a tap must not hold up what passes: a set-point that comes late is as bad as one that is lost.
#[test]
fn a_tap_passes_on_while_nobody_reads_what_it_shows() {
    let place = tempfile::tempdir().unwrap();
    let (device, program) = (place.path().join("ttyDome0"), place.path().join("dome"));
    let mut board = plug_in(&device);
    let twin = format!("twin:{}", program.display());
    let mut child = bellwire().args(["tap", "--json"]).arg(&device).arg(&twin).spawn().unwrap();
    let mut mine = user(&program.display().to_string());
    // The frame of the README, again and again; each makes a line of JSON.
    let (passed, stop) = (Arc::new(AtomicUsize::new(0)), Arc::new(AtomicBool::new(false)));
    let (counts, stops) = (Arc::clone(&passed), Arc::clone(&stop));
    let passing = std::thread::spawn(move || {
        let frame = [0x00, 0x07, 0x41, 0x1C, 0x09, 0x28, 0xB6, 0xAC, 0x00];
        while !stops.load(Ordering::Relaxed) {
            let mut read = [0; 9];
            mine.write_all(&frame).unwrap();
            board.read_exact(&mut read).unwrap();
            assert_eq!(read, frame);
            counts.fetch_add(1, Ordering::Relaxed);
        }
    });
    // More than may wait in the tap and in the pipe behind it.
    wait_until("25 000 frames have passed", || passed.load(Ordering::Relaxed) > 25_000);
    // Now somebody reads. What was left out is told with the next piece.
    let shown = BufReader::new(child.stdout.take().unwrap());
    let (sender, lines) = std::sync::mpsc::channel();
    let reading = std::thread::spawn(move || {
        shown.lines().map_while(Result::ok).for_each(|line| drop(sender.send(line)));
    });
    wait_until("the tap says what it left out", || {
        lines.try_iter().any(|line| line.contains("were passed on and are not in this log"))
    });
    stop.store(true, Ordering::Relaxed);
    passing.join().unwrap();
    signal(&child, "INT");
    reading.join().unwrap();
    let (output, _, err) = end(child);
    assert_eq!(output.status.code(), Some(0), "{err}");
}
