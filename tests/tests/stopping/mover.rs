//! A mover: gate, dead-man, motor; and beside them what the motor may do, told once more in other words.

use super::machine::MS;
use bellwire::{
    frame::Class,
    link::Event,
    setpoint::{DeadMan, Gate, Moves, RearmError, Stop, Way},
    star::LeafEvent,
    time::{Duration, Instant},
};

/// A set-point drives for so long after its arrival.
pub(crate) const LIMIT: u32 = 300 * MS;

pub(crate) struct Mover {
    /// The message number of its own set-points; those to all have number 4.
    message: u8,
    dead_man: DeadMan<i8>,
    pub(crate) gate: Gate,
    /// The witness: the newest value accepted and its arrival, and whether an operator's act since every reason to stop lets it drive.
    newest: Option<(i8, u32)>,
    armed: bool,
    count: Option<u16>,
    /// What the motor was told last, and the last time that it was told to move.
    pub(crate) motor: i8,
    pub(crate) moved: Option<u32>,
    pub(crate) accepted: u32,
}

impl Mover {
    pub(crate) fn new(message: u8, by_radio: bool, opted_in: bool) -> Self {
        let gate = Gate::new(if by_radio { Way::Open } else { Way::Wire });
        Self {
            message,
            dead_man: DeadMan::new(0, Duration::from_ticks(LIMIT), Stop::Brake),
            gate: if opted_in { gate.opted_in() } else { gate },
            newest: None,
            armed: false,
            count: None,
            motor: 0,
            moved: None,
            accepted: 0,
        }
    }

    /// Takes an event of the leaf, one to all like one to it alone.
    pub(crate) fn take(&mut self, event: &LeafEvent<'_>) {
        let Some(event) = event.of_link() else { return };
        self.dead_man.handle_event(&event);
        match event {
            Event::Ended(_) | Event::Mismatch { .. } => {
                (self.newest, self.armed, self.count) = (None, false, None)
            }
            Event::Message(message) if message.class == Class::SetPoint => {
                let &[number, lever, low, high] = message.payload else { panic!("four octets") };
                assert!(number == self.message || number == 4, "of another mover");
                if self.gate.pass(Class::SetPoint, Moves::Something).is_err() {
                    return;
                }
                let (arrived, value) = (message.arrived, lever.cast_signed());
                self.dead_man.handle_set_point(value, arrived);
                self.lapse(arrived.as_ticks());
                self.newest = Some((value, arrived.as_ticks()));
                let count = u16::from_le_bytes([low, high]);
                assert!(self.count.is_none_or(|last| last < count), "old, or twice");
                self.count = Some(count);
                self.accepted += 1;
            }
            _ => {}
        }
    }

    fn lapse(&mut self, now: u32) {
        if self.newest.is_some_and(|(_, arrived)| now >= arrived + LIMIT) {
            (self.newest, self.armed) = (None, false);
        }
    }

    /// Tells the motor; it must be what the witness says.
    pub(crate) fn drive(&mut self, now: u32) {
        self.motor = self.dead_man.output(Instant::from_ticks(now));
        self.lapse(now);
        let witness = self.newest.filter(|_| self.armed).map_or(0, |(value, _)| value);
        assert_eq!(self.motor, witness, "mover {} at {now} us", self.message);
        if self.motor != 0 {
            self.moved = Some(now);
        }
    }

    /// The operator's button on the board.
    pub(crate) fn rearm(&mut self, now: u32) -> Result<(), RearmError> {
        let done = self.dead_man.rearm(Instant::from_ticks(now));
        self.lapse(now);
        let may = self.armed || self.newest.is_some_and(|(value, _)| value == 0);
        assert_eq!(done.is_ok(), may, "mover {} at {now} us: {done:?}", self.message);
        self.armed |= may;
        done
    }

    /// When the newest value that was accepted arrived.
    pub(crate) fn newest(&self) -> Option<u32> {
        self.newest.map(|(_, arrived)| arrived)
    }
}
