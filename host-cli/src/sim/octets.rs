//! A line that carries octets in order, one after the other at its rate.

use super::fault::{Counted, Faults, Weather, flip};
use super::line::{Condition, Ordered, Pace, Setup};
use super::moment::Moment;
use super::seed::Dice;
use core::time::Duration;
use std::collections::VecDeque;

#[derive(Debug, Clone, PartialEq)]
pub(super) struct OctetLine {
    pace: Pace,
    delay: Duration,
    limit: usize,
    level: usize,
    faults: Faults,
    dice: Dice,
    weather: Weather,
    condition: Condition,
    /// Next octet of a stuck line.
    stuck_next: Moment,
    under_way: VecDeque<UnderWay>,
    /// What lies in the receiver's FIFO, and when its last octet came.
    fifo: Vec<u8>,
    fifo_at: Moment,
    pub(super) ordered: Ordered,
    pub(super) counted: Counted,
}

/// An octet on its way.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct UnderWay {
    at: Moment,
    octet: u8,
    lost: bool,
}

impl OctetLine {
    pub(super) fn new(setup: &Setup, level: usize, dice: Dice) -> Self {
        Self {
            pace: Pace::new(setup.rate),
            delay: setup.delay,
            limit: setup.queue,
            level,
            faults: setup.faults,
            dice,
            weather: Weather::default(),
            condition: Condition::Whole,
            stuck_next: Moment::START,
            under_way: VecDeque::new(),
            fifo: Vec::new(),
            fifo_at: Moment::START,
            ordered: Ordered::default(),
            counted: Counted::default(),
        }
    }

    pub(super) fn send(&mut self, now: Moment, octets: &[u8]) -> usize {
        let taken = octets.len().min(self.limit.saturating_sub(self.unsent(now)));
        self.counted.writes += 1;
        self.counted.octets += taken as u64;
        self.counted.overflowed += (octets.len() - taken) as u64;
        self.begin(now, octets.get(..taken).unwrap_or(&[]));
        taken
    }

    /// Sends octets on their way, the first of them at `from` or behind what is on its way.
    fn begin(&mut self, from: Moment, octets: &[u8]) {
        let lost = Ordered::take(&mut self.ordered.lose) || self.dice.happens(self.faults.lose);
        self.counted.lost += u64::from(lost);
        let damaged = if !lost && !octets.is_empty() && Ordered::take(&mut self.ordered.damage) {
            self.counted.flipped += 1;
            Some(self.dice.below(octets.len() as u64))
        } else {
            None
        };
        for (place, &octet) in octets.iter().enumerate() {
            let at = self.pace.take(from, 1).plus(self.delay);
            let mut octet = octet;
            if damaged == Some(place as u64) {
                flip(&mut octet, &mut self.dice);
            }
            self.under_way.push_back(UnderWay { at, octet, lost });
        }
    }

    /// Hears a write of another board that begins at `from`. Where the one before it is not over yet, both are garbled.
    pub(super) fn hear(&mut self, from: Moment, octets: &[u8]) {
        self.counted.writes += 1;
        self.counted.octets += octets.len() as u64;
        let to = from.plus(self.pace.octet() * u32::try_from(octets.len()).unwrap_or(u32::MAX));
        self.garble(from, to);
        let covered = self.pace.unsent(from).min(octets.len());
        self.counted.collided += covered as u64;
        self.begin(from, octets.get(covered..).unwrap_or(&[]));
    }

    /// Octets that are on the wire between these moments become random ones.
    pub(super) fn garble(&mut self, from: Moment, to: Moment) {
        let (from, to, octet) = (from.plus(self.delay), to.plus(self.delay), self.pace.octet());
        for under_way in
            self.under_way.iter_mut().filter(|other| other.at > from && other.at < to.plus(octet))
        {
            under_way.octet = self.dice.octet();
            self.counted.collided += 1;
        }
    }

    pub(super) fn unsent(&self, now: Moment) -> usize {
        self.pace.unsent(now)
    }

    /// The sender's driver drops what it has not sent yet.
    pub(super) fn forget_unsent(&mut self, now: Moment) {
        let sent = now.plus(self.delay);
        self.under_way.retain(|octet| octet.at <= sent);
        self.pace.stop(now);
    }

    pub(super) fn next(&self) -> Option<Moment> {
        if let Condition::Stuck(_) = self.condition {
            if self.is_due() {
                return Some(self.fifo_at);
            }
            let more = u32::try_from(self.level - self.fifo.len() - 1).unwrap_or(u32::MAX);
            return Some(self.stuck_next.plus(self.pace.octet() * more));
        }
        let (mut have, mut last) = (self.fifo.len(), self.fifo_at);
        for octet in &self.under_way {
            if have > 0 && (have >= self.level || self.is_pause(last, octet.at)) {
                break;
            }
            have += 1;
            last = octet.at;
        }
        (have > 0).then_some(last)
    }

    pub(super) fn arrive(&mut self, now: Moment, out: &mut Vec<u8>) -> bool {
        self.advance(now);
        if !self.is_due() {
            return false;
        }
        self.counted.arrived += self.fifo.len() as u64;
        out.append(&mut self.fifo);
        true
    }

    pub(super) fn set_faults(&mut self, now: Moment, faults: Faults) {
        self.advance(now);
        self.faults = faults;
    }

    pub(super) fn set_condition(&mut self, now: Moment, condition: Condition) {
        self.advance(now);
        self.condition = condition;
        self.stuck_next = now.plus(self.pace.octet());
    }

    /// Whether the receiver is called for what lies in the FIFO: it is full, or the line is idle.
    fn is_due(&self) -> bool {
        let next = match self.condition {
            Condition::Stuck(_) => Some(self.stuck_next),
            _ => self.under_way.front().map(|octet| octet.at),
        };
        let idle = next.is_none_or(|next| self.is_pause(self.fifo_at, next));
        self.fifo.len() >= self.level || (idle && !self.fifo.is_empty())
    }

    /// Whether the receiver finds the line idle between two octets.
    fn is_pause(&self, last: Moment, next: Moment) -> bool {
        next.since(last) > self.pace.octet()
    }

    /// Lets everything happen that is due up to `now`.
    fn advance(&mut self, now: Moment) {
        while let Some(octet) = self.under_way.front().copied().filter(|octet| octet.at <= now) {
            self.under_way.pop_front();
            match self.condition {
                Condition::Cut => self.counted.cut += 1,
                Condition::Stuck(_) => self.counted.drowned += 1,
                Condition::Whole if octet.lost => {}
                Condition::Whole => self.land(octet),
            }
        }
        if let Condition::Stuck(octet) = self.condition {
            while self.stuck_next <= now {
                self.counted.stuck += 1;
                self.fifo.push(octet);
                self.fifo_at = self.stuck_next;
                self.stuck_next = self.stuck_next.plus(self.pace.octet());
            }
        }
    }

    /// Puts one octet into the FIFO, by way of the faults.
    fn land(&mut self, UnderWay { at, mut octet, .. }: UnderWay) {
        let Self { faults, dice, counted, .. } = self;
        if self.weather.spoils(faults.spell, dice, counted) {
            octet = dice.octet();
        }
        if dice.happens(faults.drop) {
            counted.dropped += 1;
            return;
        }
        if dice.happens(faults.flip) {
            counted.flipped += 1;
            flip(&mut octet, dice);
        }
        self.fifo.push(octet);
        self.fifo_at = at;
        if dice.happens(faults.double) {
            counted.doubled += 1;
            self.fifo.push(octet);
        }
        if dice.happens(faults.insert) {
            counted.inserted += 1;
            self.fifo.push(dice.octet());
        }
    }
}
