//! The wire: passes octets between two ends at the rate of a UART, and does to them what a wire can do.
//!
//! The lines are those of the simulated network ([`bellwire_cli::sim::Line`]), run by the clock of the host: the same pace to the octet, the
//! same faults from the same seed. An emulator by itself passes octets at once and undamaged.

use std::{
    collections::VecDeque,
    io::{Read, Write},
    os::{fd::AsFd, unix::net::UnixStream},
    sync::{Arc, Mutex, MutexGuard, PoisonError},
    thread::JoinHandle,
    time::{Duration, Instant},
};

use bellwire_cli::sim::{Carries, Condition, Counted, Faults, Line, Moment, Seed, Setup};
use rustix::event::{PollFd, PollFlags, Timespec, poll};

use super::end::{End, Heard};

/// How often a device that nobody has open is looked at.
const NOBODY: Duration = Duration::from_millis(5);
/// The longest sleep.
const NAP: Duration = Duration::from_millis(50);
/// Octets that wait at a sender's end: a driver's hardware queue. What is more stays with the sender, as a busy UART leaves it.
const QUEUE: usize = 64;

/// One of the two ends of a wire.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// The first end that was given.
    One,
    /// The second.
    Two,
}

/// Octets that came out of the wire.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Passed {
    /// When, since the wire was laid.
    pub at: Moment,
    /// Where they came from.
    pub from: Side,
    /// What the other end got, damage included.
    pub octets: Vec<u8>,
}

/// A line of `baud`, 8 data bits, no parity, one stop bit, that hands over octet by octet: an emulated UART has a FIFO of its own.
#[must_use]
pub fn uart(baud: u32) -> Setup {
    // Room for whatever was held back.
    Setup { carries: Carries::Octets { level: 1 }, queue: 1 << 20, ..Setup::uart(baud) }
}

/// A wire in use. It is taken away when dropped.
#[derive(Debug)]
pub struct Wire {
    state: Arc<Mutex<State>>,
    bell: UnixStream,
    thread: Option<JoinHandle<()>>,
}

#[derive(Debug)]
struct State {
    start: Instant,
    ways: [Way; 2],
    ends: [End; 2],
    /// Ends where nobody is.
    nobody: [bool; 2],
    passed: Vec<Passed>,
    over: bool,
}

/// One direction.
#[derive(Debug)]
struct Way {
    line: Line,
    /// Octets that are held back before the line, while they are.
    held: Option<Vec<u8>>,
    /// Octets that the receiver has not taken yet.
    late: VecDeque<u8>,
}

impl Wire {
    /// Lays a wire between two ends. `setup` is that of the way from the first end and of the way from the second.
    ///
    /// # Panics
    /// If the setup asks for what a line cannot do.
    #[must_use]
    pub fn between(ends: [End; 2], setup: [Setup; 2], seed: u64) -> Self {
        let (bell, ring) = UnixStream::pair().expect("the system gives a pair of sockets");
        ring.set_nonblocking(true).expect("a socket");
        let [one, two] = setup;
        let way = |setup, part| Way {
            line: Line::new(setup, Seed(seed).stream(part)).expect("a line that can be"),
            held: None,
            late: VecDeque::new(),
        };
        let ways = [way(one, 0), way(two, 1)];
        let state = Arc::new(Mutex::new(State {
            start: Instant::now(),
            ways,
            ends,
            nobody: [false; 2],
            passed: Vec::new(),
            over: false,
        }));
        let run = Arc::clone(&state);
        let thread = Some(std::thread::spawn(move || carry(&run, ring)));
        Self { state, bell, thread }
    }

    /// A wire of `baud`, 8 data bits, no parity, one stop bit, without faults.
    #[must_use]
    pub fn uart(ends: [End; 2], baud: u32) -> Self {
        // Octet by octet: an emulated UART has a FIFO of its own.
        let setup = uart(baud);
        Self::between(ends, [setup.clone(), setup], 0)
    }

    fn with<T>(&self, act: impl FnOnce(&mut State, Moment) -> T) -> T {
        let mut state = lock(&self.state);
        let now = state.now();
        state.turn(now);
        let given = act(&mut state, now);
        drop(state);
        let _ = (&self.bell).write(&[1]);
        given
    }

    /// Cuts the way from this side, mends it, or has it stuck.
    pub fn set_condition(&self, from: Side, condition: Condition) {
        self.with(|state, now| state.way(from).line.set_condition(now, condition));
    }

    /// Cuts or mends both ways.
    pub fn set_both(&self, condition: Condition) {
        self.set_condition(Side::One, condition);
        self.set_condition(Side::Two, condition);
    }

    /// Changes the odds of damage on both ways.
    ///
    /// # Panics
    /// If a line cannot have them.
    pub fn set_faults(&self, faults: Faults) {
        self.with(|state, now| {
            for way in &mut state.ways {
                way.line.set_faults(now, faults).expect("faults of an octet line");
            }
        });
    }

    /// Puts octets on the way from this side, behind what is under way.
    pub fn put(&self, from: Side, octets: &[u8]) {
        self.with(|state, now| {
            state.way(from).line.send(now, octets);
        });
    }

    /// Holds back what this side sends, as a queue does that nobody serves.
    pub fn hold(&self, from: Side) {
        self.with(|state, _| {
            state.way(from).held.get_or_insert_default();
        });
    }

    /// Lets go what was held back, at the rate of the line; gives how many octets those are.
    pub fn release(&self, from: Side) -> usize {
        self.with(|state, now| {
            let way = state.way(from);
            let held = way.held.take().unwrap_or_default();
            way.line.send(now, &held)
        })
    }

    /// Puts another end in the place of this side's.
    pub fn replug(&self, side: Side, end: End) {
        self.with(|state, now| {
            state.way(side).line.forget_unsent(now);
            state.ends[side as usize] = end;
        });
    }

    /// What the way from this side has carried, and what went wrong on it.
    #[must_use]
    pub fn counted(&self, from: Side) -> Counted {
        self.with(|state, _| state.way(from).line.counted())
    }

    /// All that came out so far, in the order of its coming.
    #[must_use]
    pub fn passed(&self) -> Vec<Passed> {
        self.with(|state, _| state.passed.clone())
    }
}

impl Drop for Wire {
    fn drop(&mut self) {
        lock(&self.state).over = true;
        let _ = self.bell.write(&[1]);
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

fn lock(state: &Mutex<State>) -> MutexGuard<'_, State> {
    state.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Side {
    /// The other one.
    #[must_use]
    pub const fn other(self) -> Self {
        match self {
            Self::One => Self::Two,
            Self::Two => Self::One,
        }
    }
}

impl Way {
    fn has_room(&self, now: Moment) -> bool {
        self.held.is_some() || self.line.unsent(now) < QUEUE
    }
}

impl State {
    fn now(&self) -> Moment {
        Moment::START.plus(self.start.elapsed())
    }

    const fn way(&mut self, from: Side) -> &mut Way {
        &mut self.ways[from as usize]
    }

    /// Takes what the ends give, and gives what is due by `now`.
    fn turn(&mut self, now: Moment) {
        for from in [Side::One, Side::Two] {
            self.nobody[from as usize] = self.take(from, now);
        }
        for from in [Side::One, Side::Two] {
            self.give(from, now);
        }
    }

    /// Takes what one end gives; tells whether nobody is there.
    fn take(&mut self, from: Side, now: Moment) -> bool {
        let mut buffer = [0; QUEUE];
        while self.way(from).has_room(now) {
            match self.ends[from as usize].read(&mut buffer) {
                Heard::Octets(len) => {
                    let (way, octets) = (self.way(from), &buffer[..len]);
                    match &mut way.held {
                        Some(held) => held.extend_from_slice(octets),
                        None => {
                            way.line.send(now, octets);
                        }
                    }
                }
                Heard::Nothing => return false,
                Heard::Nobody => return true,
            }
        }
        false
    }

    fn give(&mut self, from: Side, now: Moment) {
        let mut out = Vec::new();
        while self.way(from).line.arrive(now, &mut out) {
            self.way(from).late.extend(&out);
            self.passed.push(Passed { at: now, from, octets: out.clone() });
        }
        let end = &mut self.ends[from.other() as usize];
        let late = &mut self.ways[from as usize].late;
        if self.nobody[from.other() as usize] {
            late.clear();
        }
        while !late.is_empty() {
            let taken = end.write(late.make_contiguous());
            if taken == 0 {
                break;
            }
            late.drain(..taken);
        }
    }

    /// How long nothing is due.
    fn sleep(&self, now: Moment) -> Duration {
        let due = self.ways.iter().filter_map(|way| way.line.next()).min();
        let mut sleep = due.map_or(NAP, |due| due.since(now)).min(NAP);
        if self.nobody.contains(&true) || self.ways.iter().any(|way| !way.late.is_empty()) {
            sleep = sleep.min(NOBODY);
        }
        sleep
    }
}

/// The thread of a wire.
fn carry(state: &Mutex<State>, mut ring: UnixStream) {
    let mut rung = [0; 64];
    loop {
        let _ = ring.read(&mut rung);
        let mut held = lock(state);
        if held.over {
            return;
        }
        let now = held.now();
        held.turn(now);
        let sleep = held.sleep(now);
        let read = held.ways.iter().zip(held.nobody).map(|(way, nobody)| !nobody && way.has_room(now));
        let ends: Vec<_> = held
            .ends
            .iter()
            .zip(read)
            .filter_map(|(end, read)| read.then(|| end.as_fd().try_clone_to_owned().ok())?)
            .collect();
        drop(held);
        let mut asked = vec![PollFd::new(&ring, PollFlags::IN)];
        asked.extend(ends.iter().map(|end| PollFd::new(end, PollFlags::IN)));
        let sleep = Timespec::try_from(sleep).unwrap_or(Timespec { tv_sec: 0, tv_nsec: 1_000_000 });
        let _ = poll(&mut asked, Some(&sleep));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs::File;

    fn read(end: &mut End, wanted: usize) -> Vec<u8> {
        let mut all = Vec::new();
        let mut buffer = [0; 4096];
        while all.len() < wanted {
            match end.read(&mut buffer) {
                Heard::Octets(len) => all.extend_from_slice(&buffer[..len]),
                Heard::Nothing => std::thread::sleep(Duration::from_millis(1)),
                Heard::Nobody => panic!("nobody there"),
            }
        }
        all
    }

    fn laid(baud: u32) -> (Wire, End, End) {
        let [one, end_one] = End::pair().unwrap();
        let [two, end_two] = End::pair().unwrap();
        (Wire::uart([end_one, end_two], baud), one, two)
    }

    #[test]
    fn octets_pass_both_ways_unchanged_and_no_faster_than_the_rate() {
        let (wire, mut one, mut two) = laid(1_000_000);
        let sent: Vec<u8> = (0..=255).cycle().take(5000).collect();
        assert_eq!((one.write(&sent), two.write(b"back")), (5000, 4));
        assert_eq!(read(&mut two, 5000), sent);
        assert_eq!(read(&mut one, 4), b"back");
        assert!(wire.counted(Side::One).is_clean());
        // 100 octets a millisecond from the laying of the wire on, at most: whatever the host does, none comes early.
        let mut octets = 0;
        for piece in wire.passed().iter().filter(|piece| piece.from == Side::One) {
            octets += piece.octets.len() as u64;
            assert!(piece.at.nanos() >= octets * 10_000, "octet {octets} came early");
        }
        assert_eq!(octets, 5000);
    }

    #[test]
    fn a_cut_wire_loses_and_a_held_one_keeps() {
        let (wire, mut one, mut two) = laid(1_000_000);
        wire.set_condition(Side::One, Condition::Cut);
        one.write(b"lost");
        while wire.counted(Side::One).cut < 4 {
            std::thread::sleep(Duration::from_millis(1));
        }
        wire.set_condition(Side::One, Condition::Whole);
        wire.hold(Side::One);
        one.write(b"kept");
        wire.put(Side::One, b"first ");
        assert_eq!(read(&mut two, 6), b"first ");
        assert_eq!(wire.release(Side::One), 4);
        assert_eq!(read(&mut two, 4), b"kept");
    }

    #[test]
    fn a_device_is_opened_by_its_path_left_and_opened_again() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("dome");
        let [mut board, plugged] = End::pair().unwrap();
        let _wire = Wire::uart([plugged, End::device(&path).unwrap()], 1_000_000);
        for word in [b"once ", b"again"] {
            let mut device = File::options().read(true).write(true).open(&path).unwrap();
            device.write_all(word).unwrap();
            assert_eq!(read(&mut board, 5), word);
            board.write(word);
            let mut back = [0; 5];
            device.read_exact(&mut back).unwrap();
            assert_eq!(&back, word);
        }
    }
}
