//! A medium that several boards share: a half-duplex wire, or a radio channel. Who talks at the same time as another is garbled.

use super::ids::Plug;
use super::line::{BadSetup, Carries, Pace, Setup};
use super::moment::Moment;
use core::time::Duration;

/// How a shared medium is made.
///
/// It carries octets (a half-duplex wire) or datagrams (a radio channel). On the wire, octets that overlap with another board's reach every ear as random ones,
/// as many as there would be of one board. On the channel, two frames that overlap at all are both lost, the stronger one too (no capture). All boards are
/// in reach of each other and hear with the same delay.
#[derive(Debug, Clone, PartialEq)]
pub struct Shared {
    /// Octets or datagrams, rate, delay, and the room in each board's driver. The faults are those of each ear, which has its own chance.
    pub line: Setup,
    /// From the write to the first octet: a radio changes over from looking to sending, a wire's driver is switched on. A look finds nothing of it.
    pub switch: Duration,
    /// What a radio sends before the first octet (preamble, sync word), as time. Channels only.
    pub lead: Duration,
    /// Whether boards find out that another one is talking ([`Node::looks`](super::Node::looks)); if not, the medium always looks free.
    pub listens: bool,
    /// Whether a board hears itself, as on a wire whose receiver is always on. If not, it hears nothing whole while it talks.
    pub echo: bool,
}

impl Shared {
    /// A half-duplex wire with two conductors at `baud`, 8N1: each octet is handed over as it comes, boards hear themselves, nobody looks.
    #[must_use]
    pub const fn wire(baud: u32) -> Self {
        let line = Setup { carries: Carries::Octets { level: 1 }, ..Setup::uart(baud) };
        Self { line, switch: Duration::ZERO, lead: Duration::ZERO, listens: false, echo: true }
    }

    /// A radio channel of so many octets a second, with looks, without a lead.
    #[must_use]
    pub const fn radio(rate: u32) -> Self {
        let line = Setup { carries: Carries::Datagrams, rate, ..Setup::uart(115_200) };
        Self { line, switch: Duration::ZERO, lead: Duration::ZERO, listens: true, echo: false }
    }

    /// How long a write of so many octets takes, from its first moment on the medium to its last, rounded down to nanoseconds.
    #[must_use]
    pub fn airtime(&self, octets: usize) -> Duration {
        let nanos = octets as u128 * 1_000_000_000 / u128::from(self.line.rate.max(1));
        self.lead + Duration::from_nanos(u64::try_from(nanos).unwrap_or(u64::MAX))
    }

    fn check(&self) -> Result<(), BadSetup> {
        self.line.check()?;
        let is_wire = matches!(self.line.carries, Carries::Octets { .. });
        if is_wire && self.lead > Duration::ZERO { Err(BadSetup::NotHere("lead")) } else { Ok(()) }
    }
}

/// What a medium has carried, counted by itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Talked {
    /// Writes that were put on the medium.
    pub writes: u64,
    /// Their octets.
    pub octets: u64,
    /// Writes that overlapped with another board's.
    pub collided: u64,
    /// Octets that a board's driver had no room for.
    pub overflowed: u64,
    /// Time for which a write was on the medium, ns; overlaps count for each.
    pub busy: u64,
}

/// A write on the medium, or waiting in its driver for the one before it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Sending {
    pub(super) mouth: usize,
    pub(super) start: Moment,
    pub(super) end: Moment,
    pub(super) octets: Vec<u8>,
    pub(super) collided: bool,
}

/// A board's way onto the medium.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Mouth {
    pub(super) plug: Plug,
    /// The line that it hears by; none for a board that only talks.
    pub(super) ear: Option<usize>,
    pace: Pace,
}

#[derive(Debug, Clone, PartialEq)]
pub(super) struct Medium {
    shared: Shared,
    mouths: Vec<Mouth>,
    sendings: Vec<Sending>,
    counted: Talked,
}

impl Medium {
    pub(super) fn new(shared: Shared) -> Result<Self, BadSetup> {
        shared.check()?;
        Ok(Self { shared, mouths: Vec::new(), sendings: Vec::new(), counted: Talked::default() })
    }

    pub(super) const fn shared(&self) -> &Shared {
        &self.shared
    }

    pub(super) const fn counted(&self) -> Talked {
        self.counted
    }

    pub(super) const fn is_wire(&self) -> bool {
        matches!(self.shared.line.carries, Carries::Octets { .. })
    }

    /// A further board; gives the place of its mouth.
    pub(super) fn attach(&mut self, plug: Plug, ear: Option<usize>) -> usize {
        self.mouths.push(Mouth { plug, ear, pace: Pace::new(self.shared.line.rate) });
        self.mouths.len() - 1
    }

    pub(super) fn mouths(&self) -> &[Mouth] {
        &self.mouths
    }

    /// What a board finds that looks now.
    pub(super) fn is_busy(&self, now: Moment, mouth: usize) -> bool {
        let talks = |sending: &Sending| sending.mouth != mouth && sending.start <= now && now < sending.end;
        self.shared.listens && self.sendings.iter().any(talks)
    }

    /// Octets in a board's driver that have not left it.
    pub(super) fn unsent(&self, now: Moment, mouth: usize) -> usize {
        let taken =
            self.sendings.iter().filter(|sending| sending.mouth == mouth).map(|sending| sending.octets.len());
        self.mouths[mouth].pace.unsent(now).min(taken.sum())
    }

    /// Takes a write; gives its span on the medium and how many octets of it there was room for.
    pub(super) fn talk(
        &mut self,
        now: Moment,
        mouth: usize,
        octets: &[u8],
    ) -> Option<(Moment, Moment, usize)> {
        let room = self.shared.line.queue.saturating_sub(self.unsent(now, mouth));
        let taken = if self.is_wire() || octets.len() <= room { octets.len().min(room) } else { 0 };
        self.counted.overflowed += (octets.len() - taken) as u64;
        if taken == 0 {
            return None;
        }
        let pace = &mut self.mouths[mouth].pace;
        let start = now.plus(self.shared.switch).max(pace.done());
        let end = pace.take(start.plus(self.shared.lead), taken as u64);
        let mut collided = false;
        for other in self.sendings.iter_mut().filter(|other| other.mouth != mouth) {
            if other.start < end && start < other.end {
                (other.collided, collided) = (true, true);
            }
        }
        self.sendings.push(Sending { mouth, start, end, octets: octets[..taken].to_vec(), collided });
        Some((start, end, taken))
    }

    /// When the next write ends.
    pub(super) fn next(&self) -> Option<Moment> {
        self.sendings.iter().map(|sending| sending.end).min()
    }

    /// Takes a write that has ended by now.
    pub(super) fn take_ended(&mut self, now: Moment) -> Option<Sending> {
        let place = self.sendings.iter().position(|sending| sending.end <= now)?;
        let sending = self.sendings.remove(place);
        self.counted.writes += 1;
        self.counted.octets += sending.octets.len() as u64;
        self.counted.collided += u64::from(sending.collided);
        self.counted.busy += u64::try_from(sending.end.since(sending.start).as_nanos()).unwrap_or(u64::MAX);
        Some(sending)
    }

    /// A board restarts and falls silent at once: what it was sending is heard by nobody as a whole. Gives whether it was talking.
    pub(super) fn fall_silent(&mut self, now: Moment, mouth: usize) -> bool {
        let before = self.sendings.len();
        self.sendings.retain(|sending| sending.mouth != mouth);
        self.mouths[mouth].pace.stop(now);
        self.sendings.len() < before
    }
}
