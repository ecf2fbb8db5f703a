//! One direction of a link: what it carries, how fast, and in what condition it is.

use super::datagrams::DatagramLine;
use super::fault::{Counted, Faults};
use super::moment::Moment;
use super::octets::OctetLine;
use super::seed::Dice;
use core::time::Duration;

/// What a line carries.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Carries {
    /// Octets in order (UART, pseudo-terminal, TCP), handed over in groups as a receiver's FIFO does.
    Octets {
        /// Octets at which the receiver is called; it is called earlier when the line falls idle. 1: for each octet.
        level: usize,
    },
    /// Whole datagrams, which may overtake each other (radio, UDP).
    Datagrams,
}

/// How a line is made. See [`super::profile`] for ready ones.
#[derive(Debug, Clone, PartialEq)]
pub struct Setup {
    /// What it carries.
    pub carries: Carries,
    /// Octets per second, at least 1 (a UART of 8 bits without parity: baud / 10).
    pub rate: u32,
    /// Time from the end of an octet at the sender to its arrival.
    pub delay: Duration,
    /// Room in the sender's driver, in octets; what does not fit is lost and counted.
    pub queue: usize,
    /// What goes wrong on it.
    pub faults: Faults,
}

/// Why a line cannot be made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum BadSetup {
    /// The rate is zero.
    NoRate,
    /// The FIFO level is zero.
    NoLevel,
    /// Odds outside 0.0..=1.0, by name.
    Odds(&'static str),
    /// A fault that this sort of line does not have, by name.
    NotHere(&'static str),
}

impl core::fmt::Display for BadSetup {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::NoRate => f.write_str("a line needs a rate of at least one octet per second"),
            Self::NoLevel => f.write_str("a receiver's FIFO level is at least one octet"),
            Self::Odds(name) => write!(f, "the odds of '{name}' lie outside 0 to 1"),
            Self::NotHere(name) => write!(f, "this sort of line has no fault '{name}'"),
        }
    }
}

impl core::error::Error for BadSetup {}

impl Setup {
    /// A UART of `baud` with 8 data bits, no parity and one stop bit, a FIFO of 16 octets and no faults.
    #[must_use]
    pub const fn uart(baud: u32) -> Self {
        Self {
            carries: Carries::Octets { level: 16 },
            rate: baud / 10,
            delay: Duration::ZERO,
            queue: 4096,
            faults: Faults::NONE,
        }
    }

    /// The same line with these faults.
    #[must_use]
    pub const fn with(mut self, faults: Faults) -> Self {
        self.faults = faults;
        self
    }

    /// The longest that a copy of a datagram lives after it was written: waiting, sending, delay and lateness.
    #[must_use]
    pub fn lifetime(&self) -> Duration {
        let nanos = (self.queue as u64).saturating_mul(1_000_000_000) / u64::from(self.rate.max(1));
        Duration::from_nanos(nanos) + self.delay + self.faults.late_by
    }

    pub(super) fn check(&self) -> Result<(), BadSetup> {
        let Faults { drop, flip, double, insert, lose, copy, late, spell, .. } = self.faults;
        let spell = spell.map_or([0.0; 3], |spell| [spell.begin, spell.end, spell.spoil]);
        let named = [
            ("drop", drop),
            ("flip", flip),
            ("double", double),
            ("insert", insert),
            ("lose", lose),
            ("copy", copy),
            ("late", late),
            ("spell begin", spell[0]),
            ("spell end", spell[1]),
            ("spell spoil", spell[2]),
        ];
        if let Some((name, _)) = named.iter().find(|(_, odds)| !(0.0..=1.0).contains(odds)) {
            return Err(BadSetup::Odds(name));
        }
        let elsewhere: &[&str] = match self.carries {
            Carries::Octets { level: 0 } => return Err(BadSetup::NoLevel),
            Carries::Octets { .. } => &["copy", "late"],
            Carries::Datagrams => &["drop", "double", "insert"],
        };
        if let Some((name, _)) = named.iter().find(|(name, odds)| *odds > 0.0 && elsewhere.contains(name)) {
            return Err(BadSetup::NotHere(name));
        }
        if self.rate == 0 { Err(BadSetup::NoRate) } else { Ok(()) }
    }
}

/// What a line's wire is doing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Condition {
    /// It carries what is sent.
    #[default]
    Whole,
    /// Cut: nothing gets through.
    Cut,
    /// Stuck: the receiver gets this octet at the line's rate, whatever is sent. A datagram line is jammed.
    Stuck(u8),
}

/// Faults that a script asks for by count, before chance has its say.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct Ordered {
    pub(super) lose: u32,
    pub(super) damage: u32,
}

impl Ordered {
    pub(super) fn take(count: &mut u32) -> bool {
        let due = *count > 0;
        *count = count.saturating_sub(1);
        due
    }
}

/// When each octet of a line has left it: exact over any number of octets without a pause.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Pace {
    rate: u64,
    busy_from: Moment,
    sent: u64,
}

impl Pace {
    pub(super) fn new(rate: u32) -> Self {
        Self { rate: u64::from(rate.max(1)), busy_from: Moment::START, sent: 0 }
    }

    /// The moment at which the last octet taken has left.
    pub(super) fn done(&self) -> Moment {
        let nanos = u128::from(self.sent) * 1_000_000_000 / u128::from(self.rate);
        Moment::from_nanos(self.busy_from.nanos().saturating_add(u64::try_from(nanos).unwrap_or(u64::MAX)))
    }

    /// Takes `octets` more at `now`; gives the moment at which they have left.
    pub(super) fn take(&mut self, now: Moment, octets: u64) -> Moment {
        if self.done() < now {
            self.busy_from = now;
            self.sent = 0;
        }
        self.sent += octets;
        self.done()
    }

    /// Forgets what has not left yet.
    pub(super) fn stop(&mut self, now: Moment) {
        if self.done() > now {
            self.busy_from = now;
            self.sent = 0;
        }
    }

    /// Octets taken that have not left yet.
    pub(super) fn unsent(&self, now: Moment) -> usize {
        let left = self.done().since(now).as_nanos();
        usize::try_from((left * u128::from(self.rate)).div_ceil(1_000_000_000)).unwrap_or(usize::MAX)
    }

    /// One octet time, rounded up.
    pub(super) fn octet(&self) -> Duration {
        Duration::from_nanos(1_000_000_000_u64.div_ceil(self.rate))
    }
}

/// One direction of a link.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    sort: Sort,
    setup: Setup,
}

#[derive(Debug, Clone, PartialEq)]
enum Sort {
    Octets(OctetLine),
    Datagrams(DatagramLine),
}

macro_rules! either {
    ($self:expr, $line:ident => $do:expr) => {
        match $self {
            Sort::Octets($line) => $do,
            Sort::Datagrams($line) => $do,
        }
    };
}

impl Line {
    /// A line with its own stream of chance.
    ///
    /// # Errors
    /// [`BadSetup`] if the set-up asks for what cannot be.
    pub fn new(setup: Setup, dice: Dice) -> Result<Self, BadSetup> {
        setup.check()?;
        let sort = match setup.carries {
            Carries::Octets { level } => Sort::Octets(OctetLine::new(&setup, level, dice)),
            Carries::Datagrams => Sort::Datagrams(DatagramLine::new(&setup, dice)),
        };
        Ok(Self { sort, setup })
    }

    /// How the line was made.
    #[must_use]
    pub const fn setup(&self) -> &Setup {
        &self.setup
    }

    /// Gives octets to the sender's driver; gives how many it took. For a datagram line all or none.
    pub fn send(&mut self, now: Moment, octets: &[u8]) -> usize {
        either!(&mut self.sort, line => line.send(now, octets))
    }

    /// An ear on a shared medium hears a write: on a wire as it begins, on a channel as it has ended, at this moment.
    pub(super) fn hear(&mut self, at: Moment, octets: &[u8]) {
        either!(&mut self.sort, line => line.hear(at, octets));
    }

    /// An ear hears nothing whole of what lies between these moments.
    pub(super) fn garble(&mut self, from: Moment, to: Moment) {
        either!(&mut self.sort, line => line.garble(from, to));
    }

    /// When something is next due here, if anything is.
    #[must_use]
    pub fn next(&self) -> Option<Moment> {
        either!(&self.sort, line => line.next())
    }

    /// Puts what the receiver gets at `now` into `out`; `false` if that is nothing. Call again until it is nothing.
    pub fn arrive(&mut self, now: Moment, out: &mut Vec<u8>) -> bool {
        out.clear();
        either!(&mut self.sort, line => line.arrive(now, out))
    }

    /// Octets that the sender's driver has taken and not sent yet.
    #[must_use]
    pub fn unsent(&self, now: Moment) -> usize {
        either!(&self.sort, line => line.unsent(now))
    }

    /// The sender's driver drops what it has not sent yet: its board restarts.
    pub fn forget_unsent(&mut self, now: Moment) {
        either!(&mut self.sort, line => line.forget_unsent(now));
    }

    /// Changes the condition of the wire at `now`. What is under way meets the new condition, what has arrived does not.
    pub fn set_condition(&mut self, now: Moment, condition: Condition) {
        either!(&mut self.sort, line => line.set_condition(now, condition));
    }

    /// Changes the odds of damage from `now` on.
    ///
    /// # Errors
    /// [`BadSetup`] if this line cannot have them; they are then as before.
    pub fn set_faults(&mut self, now: Moment, faults: Faults) -> Result<(), BadSetup> {
        let setup = self.setup.clone().with(faults);
        setup.check()?;
        self.setup = setup;
        either!(&mut self.sort, line => line.set_faults(now, faults));
        Ok(())
    }

    /// Loses the next `writes` writes whole.
    pub fn lose_next(&mut self, writes: u32) {
        either!(&mut self.sort, line => line.ordered.lose += writes);
    }

    /// Turns over one bit in each of the next `writes` writes that are not lost.
    pub fn damage_next(&mut self, writes: u32) {
        either!(&mut self.sort, line => line.ordered.damage += writes);
    }

    /// What was carried and what went wrong so far.
    #[must_use]
    pub fn counted(&self) -> Counted {
        either!(&self.sort, line => line.counted)
    }
}
