//! A line that carries whole datagrams, which may be lost, copied, delayed and overtaken.

use super::fault::{Counted, Faults, Weather, flip};
use super::line::{Condition, Ordered, Pace, Setup};
use super::moment::Moment;
use super::seed::Dice;
use core::time::Duration;
use std::collections::BTreeMap;

#[derive(Debug, Clone, PartialEq)]
pub(super) struct DatagramLine {
    pace: Pace,
    delay: Duration,
    limit: usize,
    faults: Faults,
    dice: Dice,
    weather: Weather,
    condition: Condition,
    /// By arrival, then by the order of writing.
    under_way: BTreeMap<(Moment, u64), Datagram>,
    written: u64,
    pub(super) ordered: Ordered,
    pub(super) counted: Counted,
}

#[derive(Debug, Clone, PartialEq, Eq)]
struct Datagram {
    sent: Moment,
    octets: Vec<u8>,
}

impl DatagramLine {
    pub(super) fn new(setup: &Setup, dice: Dice) -> Self {
        Self {
            pace: Pace::new(setup.rate),
            delay: setup.delay,
            limit: setup.queue,
            faults: setup.faults,
            dice,
            weather: Weather::default(),
            condition: Condition::Whole,
            under_way: BTreeMap::new(),
            written: 0,
            ordered: Ordered::default(),
            counted: Counted::default(),
        }
    }

    pub(super) fn send(&mut self, now: Moment, octets: &[u8]) -> usize {
        self.counted.writes += 1;
        if octets.len() > self.limit.saturating_sub(self.unsent(now)) {
            self.counted.overflowed += octets.len() as u64;
            return 0;
        }
        self.counted.octets += octets.len() as u64;
        let sent = self.pace.take(now, octets.len() as u64);
        self.launch(sent, octets);
        octets.len()
    }

    /// Sends a datagram on its way that has left the sender at `sent`, by way of the faults.
    fn launch(&mut self, sent: Moment, octets: &[u8]) {
        let Self { faults, dice, counted, .. } = self;
        let spoilt = self.weather.spoils(faults.spell, dice, counted);
        if Ordered::take(&mut self.ordered.lose) || dice.happens(faults.lose) {
            counted.lost += 1;
        } else if !spoilt {
            let copies = if dice.happens(faults.copy) {
                counted.copied += 1;
                2
            } else {
                1
            };
            for _ in 0..copies {
                self.start(sent, octets);
            }
        }
    }

    /// Hears a datagram of another board whose last octet left it at `sent`.
    pub(super) fn hear(&mut self, sent: Moment, octets: &[u8]) {
        self.counted.writes += 1;
        self.counted.octets += octets.len() as u64;
        self.launch(sent, octets);
    }

    /// Nothing is heard of one datagram, which overlapped with another.
    pub(super) fn garble(&mut self, _from: Moment, _to: Moment) {
        self.counted.collided += 1;
    }

    pub(super) fn unsent(&self, now: Moment) -> usize {
        self.pace.unsent(now)
    }

    /// The sender's driver drops what it has not sent yet.
    pub(super) fn forget_unsent(&mut self, now: Moment) {
        self.under_way.retain(|_, datagram| datagram.sent <= now);
        self.pace.stop(now);
    }

    pub(super) fn next(&self) -> Option<Moment> {
        self.under_way.first_key_value().map(|((at, _), _)| *at)
    }

    pub(super) fn arrive(&mut self, now: Moment, out: &mut Vec<u8>) -> bool {
        while self.next().is_some_and(|at| at <= now) {
            let Some((_, Datagram { octets, .. })) = self.under_way.pop_first() else { break };
            match self.condition {
                Condition::Cut => self.counted.cut += 1,
                Condition::Stuck(_) => self.counted.drowned += 1,
                Condition::Whole => {
                    self.counted.arrived += octets.len() as u64;
                    *out = octets;
                    return true;
                }
            }
        }
        false
    }

    pub(super) fn set_faults(&mut self, _now: Moment, faults: Faults) {
        self.faults = faults;
    }

    pub(super) fn set_condition(&mut self, _now: Moment, condition: Condition) {
        self.condition = condition;
    }

    /// Sends one copy on its way.
    fn start(&mut self, sent: Moment, octets: &[u8]) {
        let Self { faults, dice, counted, .. } = self;
        let mut octets = octets.to_vec();
        if !octets.is_empty() && Ordered::take(&mut self.ordered.damage) {
            let place = usize::try_from(dice.below(octets.len() as u64)).unwrap_or(0);
            counted.flipped += 1;
            flip(&mut octets[place], dice);
        }
        for octet in &mut octets {
            if dice.happens(faults.flip) {
                counted.flipped += 1;
                flip(octet, dice);
            }
        }
        let mut at = sent.plus(self.delay);
        if dice.happens(faults.late) {
            counted.late += 1;
            let longest = u64::try_from(faults.late_by.as_nanos()).unwrap_or(u64::MAX - 1);
            at = at.plus(Duration::from_nanos(dice.below(longest.saturating_add(1))));
        }
        self.under_way.insert((at, self.written), Datagram { sent, octets });
        self.written += 1;
    }
}
