//! `steer` driven through a pseudo-terminal, as by a hand at the keyboard, with a second `bellwire` as the board.

use std::{
    fs::File,
    io::{Read, Write},
    process::{Child, Command, Stdio},
    sync::{
        Arc, Mutex,
        atomic::{AtomicBool, Ordering},
    },
    thread::JoinHandle,
    time::{Duration, Instant},
};

use rustix::{
    event::{PollFd, PollFlags, Timespec, poll},
    process::{Pid, Signal, kill_process},
    pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt},
    termios::{OptionalActions, Winsize, tcgetattr, tcsetattr, tcsetwinsize},
};

use crate::tool::{HANGS, Tool, folder, run, twin_is_there};

/// Long enough that a busy computer does not make `steer` fall silent for having stood still.
const PERIOD: &str = "150ms";
const RIGHT: &[u8] = b"\x1b[C";
const LEFT: &[u8] = b"\x1b[D";

/// The thread that reads the screen, and the flag that ends it.
type Reader = (JoinHandle<()>, Arc<AtomicBool>);

/// Reads the screen without keeping hold of the terminal once told to end.
fn watch(mut terminal: File, screen: Arc<Mutex<Vec<u8>>>, end: Arc<AtomicBool>) -> Reader {
    let flag = Arc::clone(&end);
    let thread = std::thread::spawn(move || {
        let mut buffer = [0; 4096];
        while !flag.load(Ordering::Relaxed) {
            let wait = Timespec { tv_sec: 0, tv_nsec: 20_000_000 };
            match poll(&mut [PollFd::new(&terminal, PollFlags::IN)], Some(&wait)) {
                Ok(1..) => match terminal.read(&mut buffer) {
                    Ok(len @ 1..) => screen.lock().unwrap().extend_from_slice(&buffer[..len]),
                    _ => return,
                },
                _ => continue,
            }
        }
    });
    (thread, end)
}

/// Whether the terminal is the controlling one of the process, which is then told when it is lost.
#[derive(Clone, Copy)]
enum Control {
    Yes,
    No,
}

/// `steer` at a terminal of its own, and the board that it talks to.
struct Hand {
    keyboard: Option<File>,
    reader: Option<Reader>,
    screen: Arc<Mutex<Vec<u8>>>,
    steer: Child,
    board: Tool,
    path: String,
    _folder: tempfile::TempDir,
}

impl Hand {
    fn new(control: Control, words: &[&str]) -> Self {
        Self::with(control, &[], words)
    }

    /// The same with further words for the board.
    fn with(control: Control, board: &[&str], words: &[&str]) -> Self {
        let (folder, path) = folder();
        let board = Tool::start(&[&["peer", &format!("twin:{path}"), "--json"], board].concat());
        twin_is_there(&path);
        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).unwrap();
        grantpt(&master).unwrap();
        unlockpt(&master).unwrap();
        tcsetwinsize(&master, Winsize { ws_row: 24, ws_col: 80, ws_xpixel: 0, ws_ypixel: 0 }).unwrap();
        let name = ptsname(&master, Vec::new()).unwrap().into_string().unwrap();
        let slave = crate::tool::open_twin(&name);
        let mut settings = tcgetattr(&slave).unwrap();
        settings.local_modes.remove(rustix::termios::LocalModes::ECHO);
        tcsetattr(&slave, OptionalActions::Now, &settings).unwrap();
        let tool = env!("CARGO_BIN_EXE_bellwire");
        let mut command = match control {
            Control::Yes => Command::new("setsid"),
            Control::No => Command::new(tool),
        };
        if let Control::Yes = control {
            command.args(["--ctty", "--wait", tool]);
        }
        let end = || Stdio::from(slave.try_clone().unwrap());
        let steer = command
            .args(["steer", &path, "--period", PERIOD])
            .args(words)
            .stdin(end())
            .stdout(end())
            .stderr(end())
            .spawn()
            .unwrap();
        let keyboard = File::from(master);
        let screen = Arc::new(Mutex::new(Vec::new()));
        let reader = watch(keyboard.try_clone().unwrap(), Arc::clone(&screen), Arc::default());
        Self { keyboard: Some(keyboard), reader: Some(reader), screen, steer, board, path, _folder: folder }
    }

    fn press(&mut self, keys: &[u8]) {
        self.keyboard.as_mut().unwrap().write_all(keys).unwrap();
    }

    fn screen(&self) -> String {
        String::from_utf8_lossy(&self.screen.lock().unwrap()).into_owned()
    }

    /// Waits until the screen shows this.
    fn sees(&self, text: &str) {
        let end = Instant::now() + HANGS;
        while !self.screen().contains(text) {
            assert!(Instant::now() < end, "never saw {text:?}: {}", self.screen());
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    fn arm(&mut self) {
        self.sees("link up");
        self.press(b"a");
        self.sees("armed: +0.00");
    }

    /// Waits until the board gets a rate that `is` the one; gives it.
    fn rate(&mut self, is: impl Fn(f64) -> bool) -> f64 {
        let line = self.board.line(|line| rate_of(line).is_some_and(&is));
        rate_of(&line).unwrap()
    }

    /// Closes our side of the terminal for good.
    fn hang_up(&mut self) {
        let (thread, end) = self.reader.take().unwrap();
        end.store(true, Ordering::Relaxed);
        thread.join().unwrap();
        self.keyboard = None;
    }

    fn exit(&mut self) -> Option<i32> {
        let end = Instant::now() + HANGS;
        loop {
            match self.steer.try_wait().unwrap() {
                Some(status) => return status.code(),
                None => assert!(Instant::now() < end, "it does not end: {}", self.screen()),
            }
            std::thread::sleep(Duration::from_millis(5));
        }
    }
}

impl Drop for Hand {
    fn drop(&mut self) {
        let _ = self.steer.kill();
        let _ = self.steer.wait();
    }
}

fn rate_of(line: &str) -> Option<f64> {
    let record: serde_json::Value = serde_json::from_str(line).ok()?;
    (record["kind"] == "set-point").then(|| record["values"]["rate"].as_f64())?
}

#[test]
fn arming_sends_the_stop_value_before_the_errand_and_arrows_ramp_up() {
    let mut hand = Hand::new(Control::No, &["--step", "1", "--ramp", "2"]);
    hand.sees("emergency stop");
    hand.sees("silent");
    hand.press(RIGHT);
    hand.arm();
    // Not one set-point before arming, although an arrow was pressed: the first is the stop value, and the errand follows it.
    let first = hand.board.line(|line| line.contains("set-point") || line.contains("re-arm"));
    assert_eq!(rate_of(&first), Some(0.0), "{first}");
    hand.board.line(|line| line.contains("\"kind\":\"errand\"") && line.contains("re-arm"));
    hand.press(RIGHT);
    let on_the_way = hand.rate(|rate| rate != 0.0);
    assert!(on_the_way > 0.0 && on_the_way < 0.5, "the ramp begins small: {on_the_way}");
    hand.rate(|rate| rate == 1.0);
    hand.press(LEFT);
    hand.press(LEFT);
    hand.rate(|rate| rate == -1.0);
    hand.press(b"q");
    assert_eq!(hand.exit(), Some(0));
    let stop = hand.rate(|rate| rate > -1.0);
    assert_eq!(stop, 0.0, "leaving sends the stop value at once");
}

#[test]
fn space_and_any_unbound_key_stop_at_once() {
    for key in [b" ", b"x", b"\r", b"7"] {
        let mut hand = Hand::new(Control::No, &["--step", "1", "--ramp", "100"]);
        hand.arm();
        hand.press(RIGHT);
        hand.rate(|rate| rate == 1.0);
        hand.press(key);
        assert_eq!(hand.rate(|rate| rate != 1.0), 0.0, "{key:?}");
        // It stays armed: the next arrow works.
        hand.press(LEFT);
        hand.rate(|rate| rate == -1.0);
    }
}

#[test]
fn losing_the_terminal_is_silence() {
    for control in [Control::Yes, Control::No] {
        let mut hand = Hand::new(control, &["--step", "1", "--ramp", "100"]);
        hand.arm();
        hand.press(RIGHT);
        hand.rate(|rate| rate == 1.0);
        hand.hang_up();
        hand.exit();
        silence(&mut hand);
    }
}

#[test]
fn a_suspended_program_does_not_take_the_old_rate_up_again() {
    let mut hand = Hand::new(Control::No, &["--step", "1", "--ramp", "100"]);
    hand.arm();
    hand.press(RIGHT);
    hand.rate(|rate| rate == 1.0);
    let pid = Pid::from_child(&hand.steer);
    kill_process(pid, Signal::STOP).unwrap();
    std::thread::sleep(Duration::from_millis(600));
    kill_process(pid, Signal::CONT).unwrap();
    hand.sees("this program stood still for");
    hand.sees("silent: press a to arm");
    silence(&mut hand);
    hand.press(b"a");
    assert_eq!(hand.rate(|_| true), 0.0, "after re-arming it begins with the stop value");
}

#[test]
fn arming_by_option_happens_once_and_never_again_by_a_new_session() {
    let mut hand = Hand::new(Control::No, &["--arm", "--step", "1", "--ramp", "100"]);
    hand.sees("armed: +0.00");
    hand.press(RIGHT);
    hand.rate(|rate| rate == 1.0);
    let board = std::mem::replace(&mut hand.board, Tool::start(&["--version"]));
    // The board is gone, and another one comes in its place.
    board.stop();
    let twin = format!("twin:{}", hand.path);
    hand.board = Tool::start(&["peer", &twin, "--json"]);
    hand.board.line_with("\"event\":\"opened\"");
    silence(&mut hand);
    hand.sees("link up | silent: press a to arm");
}

#[test]
fn leaving_when_the_board_is_gone_claims_no_stop() {
    let mut hand = Hand::new(Control::No, &["--step", "1", "--ramp", "100"]);
    hand.arm();
    hand.press(RIGHT);
    hand.rate(|rate| rate == 1.0);
    std::mem::replace(&mut hand.board, Tool::start(&["--version"])).stop();
    hand.sees("GAP");
    hand.press(b"q");
    hand.sees("NO stop value could be sent");
}

#[test]
fn without_a_terminal_it_says_what_to_use_instead() {
    let ended = run(&["steer", "/dev/null"]);
    assert!(ended.code == Some(2) && ended.err.contains("inject"), "{}", ended.err);
    let ended = run(&["steer", "twin:/tmp/x", "--period", "1s"]);
    assert!(ended.code == Some(2) && ended.err.contains("fresh for 500 ms"), "{}", ended.err);
    let ended = run(&["steer", "udp:127.0.0.1:9"]);
    assert!(ended.code == Some(2) && ended.err.contains("forge"), "{}", ended.err);
}

/// A leaf of a star is steered by its name in the agreement, and only the leaf that is named.
#[test]
fn one_leaf_of_several_is_steered() {
    let mut hand = Hand::with(Control::No, &["--address", "7"], &["--to", "7"]);
    hand.sees("silent");
    hand.arm();
    hand.press(RIGHT);
    hand.rate(|rate| rate > 0.0);
    let mut other = Hand::with(Control::No, &["--address", "porch"], &["--to", "7"]);
    other.press(b"a");
    std::thread::sleep(Duration::from_millis(700));
    let seen = other.board.so_far();
    assert!(!seen.iter().any(|line| line.contains("opened") || line.contains("\"frame\"")), "{seen:#?}");
}

/// No set-point with a rate other than stop arrives any more, for several periods.
fn silence(hand: &mut Hand) {
    std::thread::sleep(Duration::from_millis(200));
    hand.board.forget();
    std::thread::sleep(Duration::from_millis(800));
    let rates: Vec<_> = hand.board.so_far().iter().filter_map(|line| rate_of(line)).collect();
    assert!(rates.is_empty(), "{rates:?}");
}
