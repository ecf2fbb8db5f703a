//! A role in front of a mirror: time and octets are handed in as a recording has them, and all that comes of it is handed out.
//!
//! The same few lines run on a board and on the computer, so that a test can compare the two octet by octet.

use bellwire::{link::OwnNumber, setpoint::Motion, time::Instant};
use parts::{Channel, Uart};

use crate::{Dome, Focuser, Mechanics};

/// Octets that say what the outputs do.
pub const OUTPUTS: usize = 8;
/// Octets of a [`Step`] before those that arrive.
pub const HEAD: usize = 6;

/// One step of a recording. On the wire to the board: the time in µs and four octets, little-endian; the kind; a count; and the octets that arrive. Each
/// step is answered, so that nobody tells the board more than its UART has room for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// Kind 0: so many octets arrive, at most 240. They follow. Answered by a zero.
    Arrive(u8),
    /// Kind 1, and 2 in the rain: a turn of the control loop, after which the transmitter takes so many octets. Answered by how many left,
    /// these, and [`OUTPUTS`] octets.
    Turn {
        /// It rains.
        rain: bool,
        /// How many may leave.
        leave: u8,
    },
    /// Kind 3: the board starts anew, and this is its own number. Answered by a zero.
    Restart(u8),
}

impl Step {
    /// The step at a time, as it is told to a board.
    #[must_use]
    pub fn head(self, now: Instant) -> [u8; HEAD] {
        let [a, b, c, d] = now.as_ticks().to_le_bytes();
        let (kind, count) = match self {
            Self::Arrive(count) => (0, count),
            Self::Turn { rain, leave } => (if rain { 2 } else { 1 }, leave),
            Self::Restart(own) => (3, own),
        };
        [a, b, c, d, kind, count]
    }

    /// The time and the step that a board is told; `None`: there is no such kind.
    #[must_use]
    pub const fn read(head: [u8; HEAD]) -> Option<(Instant, Self)> {
        let [a, b, c, d, kind, count] = head;
        let step = match kind {
            0 => Self::Arrive(count),
            1 | 2 => Self::Turn { rain: kind == 2, leave: count },
            3 => Self::Restart(count),
            _ => return None,
        };
        Some((Instant::from_ticks(u32::from_le_bytes([a, b, c, d])), step))
    }
}

/// A role that can stand in front of the mirror.
pub trait Reflected {
    /// The board starts.
    fn start(line: Uart, own: OwnNumber, now: Instant) -> Self;

    /// One turn of its loop; what its outputs shall do, in octets.
    fn turn(&mut self, now: Instant, rain: bool) -> [u8; OUTPUTS];
}

impl Reflected for (Dome<Uart>, Mechanics) {
    fn start(line: Uart, own: OwnNumber, now: Instant) -> Self {
        (Dome::new(line, own, now), Mechanics::new(now))
    }

    fn turn(&mut self, now: Instant, rain: bool) -> [u8; OUTPUTS] {
        let (dome, mechanics) = self;
        let mut sensors = mechanics.sense(now);
        sensors.rain = rain;
        sensors.lost = dome.line().lost();
        let Ok(drive) = dome.turn(now, sensors);
        mechanics.drive(drive);
        let motion = match dome.motion() {
            Motion::Held(_) => 0,
            Motion::Running => 1,
            Motion::Stale(_) => 2,
            Motion::MustRearm(_) => 3,
        };
        let [low, high] = drive.rate.to_le_bytes();
        let [a, b, c, d] = dome.newest().map_or(0, |at| at.as_ticks()).to_le_bytes();
        [low, high, drive.shutter as u8, motion, a, b, c, d]
    }
}

impl Reflected for Focuser<Uart> {
    fn start(line: Uart, own: OwnNumber, now: Instant) -> Self {
        Self::new(line, own, 0, now)
    }

    fn turn(&mut self, now: Instant, rain: bool) -> [u8; OUTPUTS] {
        let lost = self.line().lost();
        let temperature = if rain { 420 } else { 850 };
        let Ok(position) = self.turn(now, temperature, lost);
        let ([a, b, c, d], [e, f, g, h]) = (position.to_le_bytes(), self.target().to_le_bytes());
        [a, b, c, d, e, f, g, h]
    }
}

/// A role, and the channel that stands for its UART.
#[derive(Debug)]
pub struct Mirror<R> {
    channel: &'static Channel,
    role: R,
}

impl<R: Reflected> Mirror<R> {
    /// The role at its start, with nothing in the channel.
    pub fn new(channel: &'static Channel, now: Instant, own: u8) -> Self {
        let mut line = Uart::new(channel, || {});
        while line.take_octet().is_some() {}
        while channel.next_to_send().is_some() {}
        Self { channel, role: R::start(line, OwnNumber::Random(own.into()), now) }
    }

    /// An octet arrives.
    pub fn arrive(&self, now: Instant, octet: u8) {
        self.channel.handle_octet(octet, now);
    }

    /// One turn of the loop; what the outputs shall do.
    pub fn turn(&mut self, now: Instant, rain: bool) -> [u8; OUTPUTS] {
        self.role.turn(now, rain)
    }

    /// The next octet that leaves.
    pub fn depart(&self) -> Option<u8> {
        self.channel.next_to_send()
    }

    /// How many octets wait to leave.
    #[must_use]
    pub fn waiting(&self) -> usize {
        self.channel.waiting()
    }
}
