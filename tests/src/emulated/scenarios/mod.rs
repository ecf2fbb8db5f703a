//! What happens to emulated boards, and what must come of it: one function a scenario.
//!
//! Each gives one line of what it measured, and panics if the board does what it must not.

mod awaited;
mod clock;
mod field;
mod hand;
mod line;
mod listening;
mod machines;
mod mirror;
mod motion;
mod sending;
mod two_boards;

use std::{
    path::PathBuf,
    time::{Duration, Instant},
};

use bellwire_cli::{
    capture::Writer,
    endpoint::{Chunk, Direction, PortInfo, Wiring},
    sim::Setup,
};

use super::{
    board::{Board, Clock, HANGS, Machine, Start},
    desk::Desk,
    end::End,
    said::{self, Drive},
    tool::Tool,
    wire::{self, Passed, Side, Wire},
};

/// Bits per second of the boards' UARTs.
pub const BAUD: u32 = 115_200;
/// How long a rate of the dome stays fresh, µs.
pub const LIMIT: u32 = 500_000;
/// The agreement of the observatory, from the root of the repository.
const AGREEMENT: &str = "examples/observatory/agreement.toml";
/// Output pins: the shutter opens.
const OPEN: u32 = 1 << 2;

/// A scenario by name, and what it shows.
#[derive(Debug, Clone, Copy)]
pub struct Scenario {
    /// Its name.
    pub name: &'static str,
    /// What it shows.
    pub shows: &'static str,
    /// Plays it; the line to print.
    pub play: fn(&Bench) -> String,
}

/// All of them, in the order in which they are played.
pub const ALL: &[Scenario] = &[
    Scenario {
        name: "conversation",
        shows: "desk and dome: errands delivered, state reported",
        play: line::conversation,
    },
    Scenario {
        name: "boot-text",
        shows: "foreign text before the first frame, both ways",
        play: line::boot_text,
    },
    Scenario {
        name: "bit-errors",
        shows: "one bit in a thousand turned over, both ways",
        play: line::bit_errors,
    },
    Scenario {
        name: "two-boards",
        shows: "an M3-class desk and the dome, UART to UART, cut",
        play: two_boards::two_boards,
    },
    Scenario { name: "cut", shows: "the wire is cut while the motor turns", play: motion::cut },
    Scenario {
        name: "duplicates",
        shows: "no set-point any more, but copies of the re-arm errand",
        play: motion::duplicates,
    },
    Scenario { name: "queue", shows: "3 s of set-points stuck in a queue come at once", play: motion::queue },
    Scenario {
        name: "stall",
        shows: "the control loop stands still for 3 s of set-points",
        play: motion::stall,
    },
    Scenario {
        name: "backlog",
        shows: "0.4 s of set-points wait for the loop, and news ceases",
        play: motion::backlog,
    },
    Scenario { name: "reset", shows: "the board is reset in mid-conversation", play: motion::reset },
    Scenario {
        name: "new-desk",
        shows: "another desk opens a session while the motor turns",
        play: motion::new_desk,
    },
    Scenario { name: "log", shows: "bellwire log: alone, and as a recorded peer", play: listening::log },
    Scenario { name: "tap", shows: "bellwire tap between a program and the dome", play: listening::tap },
    Scenario {
        name: "inject",
        shows: "bellwire inject: typed errands to the focuser",
        play: sending::inject,
    },
    Scenario { name: "replay", shows: "bellwire replay of a recorded desk", play: sending::replay },
    Scenario { name: "steer", shows: "bellwire steer: keys, leaving, and a killed desk", play: hand::steer },
    Scenario { name: "stop-test", shows: "bellwire stop-test, both ways of ceasing", play: hand::stop_test },
    Scenario { name: "panic", shows: "the program panics while the motor turns", play: motion::panics },
    Scenario {
        name: "radio",
        shows: "bellwire log hears the mast through the radio board",
        play: field::radio,
    },
    Scenario {
        name: "mast",
        shows: "the mast reports, sleeps and goes on in its session",
        play: field::mast,
    },
    Scenario { name: "async", shows: "the focuser as a future on an async driver", play: awaited::focuser },
    Scenario { name: "m3", shows: "the dome on an M3-class board: conversation and cut", play: machines::m3 },
    Scenario {
        name: "riscv",
        shows: "the dome on a RISC-V board: conversation and cut",
        play: machines::riscv,
    },
    Scenario { name: "deaf", shows: "an M3-class board without interrupts for 300 ms", play: clock::deaf },
    Scenario {
        name: "mirror-dome",
        shows: "the dome does on a board what it does here, octet by octet",
        play: mirror::dome,
    },
    Scenario { name: "mirror-focuser", shows: "so does the focuser", play: mirror::focuser },
];

/// Where a scenario finds its images and puts its files.
#[derive(Debug)]
pub struct Bench {
    /// Folder of the images of the M0-class board.
    pub images: PathBuf,
    /// Folder for sockets, devices and logs: a short path.
    pub folder: PathBuf,
    /// Seed of everything random on the wire.
    pub seed: u64,
}

/// A board at one end of a wire, and a device at the other.
#[derive(Debug)]
pub struct Bed {
    /// The board: side one of the wire.
    pub board: Board,
    /// The wire.
    pub wire: Wire,
    /// The device: side two of the wire.
    pub device: PathBuf,
}

impl Bench {
    /// Starts an M0-class board with this image, wired to a device.
    ///
    /// # Panics
    /// If the emulator does not start.
    #[must_use]
    pub fn lay(&self, image: &str, clock: Clock, script: &[&str], setup: &Setup) -> Bed {
        self.lay_on(Machine::Microbit, image, clock, script, setup)
    }

    /// Where the image of a machine is.
    #[must_use]
    pub fn image(&self, machine: Machine, image: &str) -> PathBuf {
        match machine {
            Machine::Microbit => self.images.join(image),
            _ => self.images.join("../..").join(machine.target()).join("release").join(image),
        }
    }

    /// Starts a board, wired to a device.
    ///
    /// # Panics
    /// If the emulator does not start.
    #[must_use]
    pub fn lay_on(&self, machine: Machine, image: &str, clock: Clock, script: &[&str], setup: &Setup) -> Bed {
        let path = self.image(machine, image);
        let start = Start { name: image, machine, image: &path, uarts: 1, clock, script };
        let (board, ends) = start.run(&self.folder).expect("the emulator starts");
        let plugged = ends.into_iter().next().expect("one UART");
        let device = self.folder.join("device");
        let ends = [plugged, End::device(&device).expect("a pseudo-terminal")];
        let wire = Wire::between(ends, [setup.clone(), setup.clone()], self.seed);
        Bed { board, wire, device }
    }

    /// Writes what came out of a wire as a capture, if `BELLWIRE_CAPTURES` names a folder for it. Its times count from the laying of the wire.
    ///
    /// # Panics
    /// If it cannot be written.
    pub fn keep(&self, name: &str, wire: &Wire) {
        let Some(folder) = std::env::var_os("BELLWIRE_CAPTURES") else { return };
        let mut writer = Writer::new();
        writer.section();
        writer.port(&PortInfo { wiring: Some(Wiring::default()), ..PortInfo::named(name.to_owned()) });
        for Passed { at, from, octets } in wire.passed() {
            let direction = if from == Side::One { Direction::In } else { Direction::Out };
            writer.chunk(&Chunk { at: at.nanos(), port: 0, direction, octets });
        }
        let path = PathBuf::from(folder).join(format!("{name}.pcapng"));
        std::fs::write(&path, writer.octets()).expect("the capture is written");
    }

    /// The dome on a good wire.
    #[must_use]
    pub fn dome(&self, clock: Clock, script: &[&str]) -> Bed {
        self.lay("dome", clock, script, &wire::uart(BAUD))
    }
}

impl Bed {
    /// A desk with a session at the device.
    #[must_use]
    pub fn desk(&self) -> Desk {
        Desk::opened(&self.device)
    }

    /// The word of a command line that stands for the device.
    pub const DEVICE: &'static str = "DEVICE";

    /// The tool at the device.
    #[must_use]
    pub fn tool(&self, bench: &Bench, words: &[&str]) -> Tool {
        Tool::start(&bench.folder, &self.filled(words))
    }

    /// The tool at the device, with a terminal to take keys from.
    #[must_use]
    pub fn at_keyboard(&self, bench: &Bench, words: &[&str]) -> Tool {
        Tool::at_keyboard(&bench.folder, &self.filled(words))
    }

    fn filled<'a>(&'a self, words: &[&'a str]) -> Vec<&'a str> {
        let device = self.device.to_str().expect("a plain path");
        words.iter().map(|&word| if word == Self::DEVICE { device } else { word }).collect()
    }

    /// Waits until the wire has carried exactly so many octets from this side: a program ends before its last octets are on their way.
    ///
    /// # Panics
    /// If it never has, or has carried more.
    pub fn until_carried(&self, from: Side, octets: u64) {
        let end = Instant::now() + HANGS;
        while self.wire.counted(from).octets < octets {
            assert!(Instant::now() < end, "{:?} and not {octets} octets", self.wire.counted(from));
            std::thread::sleep(Duration::from_millis(5));
        }
        assert_eq!(self.wire.counted(from).octets, octets);
    }

    /// Waits until the newest change of the outputs `is` the one; that change.
    ///
    /// # Panics
    /// If it never comes.
    #[must_use]
    pub fn until_drive(&self, what: &str, is: impl Fn(Drive) -> bool) -> Drive {
        let end = Instant::now() + HANGS;
        loop {
            match self.drives().last() {
                Some(drive) if is(*drive) => return *drive,
                _ => assert!(Instant::now() < end, "{what} never came: {:?}", self.drives()),
            }
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    /// Every change of the outputs so far.
    #[must_use]
    pub fn drives(&self) -> Vec<Drive> {
        said::drives(&self.board.said())
    }

    /// Waits, with the desk going on, until the motor has stopped after having turned; that change.
    #[must_use]
    pub fn stop(&self, desk: &mut Desk) -> Drive {
        let last = || self.drives().last().copied();
        desk.serve_until("the stop", || last().is_some_and(|drive| drive.rate == 0 && drive.newest > 0));
        last().expect("just seen")
    }
}

/// Holds a stop for want of news to the rule: at the first turn of the loop at or after the end of the limit.
fn check_stop(stop: Drive) {
    let due = stop.newest + LIMIT;
    assert!(
        stop.before < due && due <= stop.at,
        "{stop:?}: a stop at another turn than the first after {due}"
    );
    assert_eq!(stop.outputs & said::MOTOR, 0, "{stop:?}: the motor's driver is on");
}
