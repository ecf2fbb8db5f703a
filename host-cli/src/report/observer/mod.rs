//! One conversation as a passive observer sees it: sessions, numbers, confirmations.

mod counter;
mod session;

use self::{
    counter::Counter,
    session::{BITS, Mark, Session},
};
use super::confirmed::Confirmed;
use super::{Sum, What};
use crate::endpoint::Direction;
use bellwire::frame::{Class, Extension, Header, Kind, MessageNumber, Open};

/// What the observer tells: which way it went, and what.
pub(super) type Told = Vec<(Direction, What)>;

/// One side of a conversation: what it sent.
#[derive(Debug, Clone, Default)]
struct Side {
    seen: bool,
    open: Option<Open>,
    confirmed: Confirmed,
    set_points: Counter,
    notices: Counter,
    last_at: Option<u64>,
    silence_told: bool,
    probe: Option<(u16, Option<u64>)>,
}

/// A frame where it was seen.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sighting<'a> {
    pub(super) at: Option<u64>,
    pub(super) direction: Direction,
    pub(super) header: &'a Header,
    pub(super) payload: &'a [u8],
}

/// One conversation, both directions of one port.
#[derive(Debug, Clone, Default)]
pub(super) struct Observer {
    sides: [Side; 2],
    session: Session,
    foreign: Option<(Mark, u8)>,
    end_told: bool,
    differs_told: Option<(u32, u32)>,
}

const fn index(direction: Direction) -> usize {
    match direction {
        Direction::In => 0,
        Direction::Out => 1,
    }
}

const fn opposite(direction: Direction) -> Direction {
    match direction {
        Direction::In => Direction::Out,
        Direction::Out => Direction::In,
    }
}

impl Observer {
    /// Session bits of frames that certainly belong to the session that runs.
    pub(super) fn bits(&self) -> Option<u8> {
        match (self.session, self.foreign) {
            (Session::Opened(session), None) => u8::try_from(session & BITS).ok(),
            (Session::Seen((bits, None)), None) => Some(bits),
            _ => None,
        }
    }

    /// Fingerprint of the agreement that the sender of this direction last stated; 0: none.
    pub(super) fn agreement(&self, direction: Direction) -> u32 {
        self.sides[index(direction)].open.map_or(0, |open| open.fingerprint)
    }

    /// Takes a plain frame (a message with nothing in its head but kind, session and number) of the session that runs, about which
    /// there is nothing to tell as its number is the one due. Gives `false`, and has done nothing, otherwise. Nearly all frames of a
    /// long capture are such.
    #[inline]
    pub(super) fn plain(
        &mut self,
        at: Option<u64>,
        direction: Direction,
        (class, number, message): (Class, u8, u16),
        octets: u32,
        sum: &mut Sum,
    ) -> bool {
        let side = &mut self.sides[index(direction)];
        // Silence is measured where there are times and a promise.
        if at.is_some() && side.open.is_some() {
            return false;
        }
        let next = match class {
            Class::SetPoint => &mut side.set_points.next,
            Class::Notice => &mut side.notices.next,
            Class::Errand | Class::Report => {
                if !side.confirmed.is_due(number) {
                    return false;
                }
                side.confirmed.sent_when_due(class, Some(message), at);
                &mut None
            }
        };
        match next {
            Some(next) if *next == number => *next = number.wrapping_add(1),
            None if class.is_confirmed() => {}
            _ => return false,
        }
        side.last_at = at;
        side.seen = true;
        let counts = &mut sum.messages[class as usize];
        counts.new += 1;
        counts.octets += u64::from(octets);
        true
    }

    /// Takes a frame; gives which sending of its number it is (1: the first). What it tells is appended to `told`.
    pub(super) fn frame(&mut self, seen: &Sighting<'_>, sum: &mut Sum, told: &mut Told) -> u8 {
        let &Sighting { at, direction, header, payload } = seen;
        if at.is_some() {
            self.heard(at, direction, told);
        }
        self.sides[index(direction)].seen = true;
        match header.kind {
            Kind::Open => {
                if let Ok(open) = Open::parse(payload) {
                    self.open(direction, open, sum, told);
                }
                return 1;
            }
            Kind::Extended => {
                self.extended(seen, told);
                return 1;
            }
            _ => {}
        }
        if !self.belongs(direction, (header.session, header.tag), sum, told) {
            return 1;
        }
        if let Some(ack) = header.ack {
            let asked = opposite(direction);
            let side = &mut self.sides[index(asked)];
            if side.seen {
                side.confirmed.acknowledged(ack, at, &mut |what| {
                    count_confirmation(&what, sum);
                    told.push((asked, what));
                });
            }
        }
        header.kind.class().map_or(1, |class| self.message(class, seen, sum, told))
    }

    /// Takes a frame from the hub to all leaves: set-points and notices share their numbers, and no session of a leaf's (W-70). Gives which
    /// sending it is, as far as seen.
    pub(super) fn broadcast(&mut self, seen: &Sighting<'_>, sum: &mut Sum, told: &mut Told) -> u8 {
        let &Sighting { direction, header, payload, .. } = seen;
        let Some(class) = header.kind.class().filter(|class| !class.is_confirmed()) else { return 1 };
        let mark = (header.session, header.tag);
        let numbers = &mut self.sides[index(direction)].notices;
        if self.session != Session::Seen(mark) {
            // The hub has started anew, or this is the first one that is heard.
            (self.session, *numbers) = (Session::Seen(mark), Counter::default());
        }
        let counts = &mut sum.messages[class as usize];
        let Some(skipped) = numbers.step(header.number, header.tag.is_none()) else {
            counts.resent += 1;
            return 2;
        };
        counts.new += 1;
        counts.octets += payload.len() as u64;
        if skipped > 0 {
            counts.missing += u64::from(skipped);
            let first = header.number.wrapping_sub(skipped);
            told.push((direction, What::Missing { class, first, count: skipped }));
        }
        1
    }

    /// Time has passed: tells silence. `now` is nanoseconds since the Unix epoch.
    pub(super) fn tick(&mut self, now: u64, told: &mut Told) {
        for direction in [Direction::In, Direction::Out] {
            self.silence(now, direction, told);
        }
    }

    fn heard(&mut self, at: Option<u64>, direction: Direction, told: &mut Told) {
        if let Some(now) = at {
            self.silence(now, direction, told);
        }
        let side = &mut self.sides[index(direction)];
        side.last_at = at;
        side.silence_told = false;
    }

    fn silence(&mut self, now: u64, direction: Direction, told: &mut Told) {
        let side = &mut self.sides[index(direction)];
        let (Some(last), Some(open)) = (side.last_at, side.open) else { return };
        let promised = u64::from(open.silence) * 100_000_000;
        let lasted = now.saturating_sub(last);
        if promised != 0 && lasted > promised && !side.silence_told {
            side.silence_told = true;
            told.push((direction, What::Silent { lasted }));
        }
    }

    fn message(&mut self, class: Class, seen: &Sighting<'_>, sum: &mut Sum, told: &mut Told) -> u8 {
        let &Sighting { at, direction, header, payload } = seen;
        let side = &mut self.sides[index(direction)];
        let counts = &mut sum.messages[class as usize];
        let number = header.number;
        let counter = match class {
            Class::SetPoint => &mut side.set_points,
            Class::Notice => &mut side.notices,
            Class::Errand | Class::Report => {
                let message = MessageNumber::split(payload).ok().map(|(number, _)| number.get());
                let step = side.confirmed.sent(number, class, message, at);
                if step.sending > 1 {
                    counts.resent += 1;
                }
                if step.new {
                    counts.new += 1;
                    counts.octets += payload.len() as u64;
                }
                if step.skipped > 0 {
                    let first = number.wrapping_sub(step.skipped);
                    // Errands and reports share their numbers, so it is not known which of them is missing.
                    sum.messages[Class::Errand as usize].missing += u64::from(step.skipped);
                    told.push((
                        direction,
                        What::Missing { class: Class::Errand, first, count: step.skipped },
                    ));
                }
                if step.given_up {
                    sum.given_up += 1;
                    told.push((direction, What::GivenUp { number, message: step.message }));
                }
                return step.sending;
            }
        };
        let Some(skipped) = counter.step(number, header.tag.is_none()) else {
            counts.resent += 1;
            return 2;
        };
        counts.new += 1;
        counts.octets += payload.len() as u64;
        if skipped > 0 {
            counts.missing += u64::from(skipped);
            let first = number.wrapping_sub(skipped);
            told.push((direction, What::Missing { class, first, count: skipped }));
        }
        1
    }

    fn extended(&mut self, seen: &Sighting<'_>, told: &mut Told) {
        let &Sighting { at, direction, header, payload } = seen;
        let Some(&[low, high]) = payload.first_chunk::<2>() else { return };
        let id = u16::from_le_bytes([low, high]);
        match header.extension {
            Some(Extension::Probe) => self.sides[index(direction)].probe = Some((id, at)),
            Some(Extension::ProbeAnswer) => {
                let asker = opposite(direction);
                let probe = &mut self.sides[index(asker)].probe;
                if let Some((_, asked)) = probe.take_if(|(asked_id, _)| *asked_id == id) {
                    let after = at.zip(asked).map(|(now, asked)| now.saturating_sub(asked));
                    told.push((asker, What::ProbeAnswered { id, after }));
                }
            }
            _ => {}
        }
    }

    fn forget_numbers(&mut self) {
        for side in &mut self.sides {
            side.confirmed = Confirmed::default();
            side.set_points = Counter::default();
            side.notices = Counter::default();
        }
    }
}

fn count_confirmation(what: &What, sum: &mut Sum) {
    match *what {
        What::Delivered { sendings, after, .. } => {
            sum.delivered += 1;
            if let (1, Some(after)) = (sendings, after) {
                sum.round_trip(after);
            }
        }
        What::Missing { class, count, .. } => sum.messages[class as usize].missing += u64::from(count),
        _ => {}
    }
}
