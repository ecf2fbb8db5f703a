//! One conversation as a passive observer sees it: sessions, numbers, confirmations.

use super::confirmed::Confirmed;
use super::{Sum, What};
use crate::endpoint::Direction;
use bellwire::frame::{Class, Extension, Header, Kind, MessageNumber, Open};

/// After so many frames in a row with the same foreign session bits, that session is taken to be the real one.
const ADOPT_AFTER: u8 = 3;

/// Bits of a session number that travel in the control octet, and in the tag above them.
const BITS: u32 = 3;

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

/// The number space of set-points or notices.
#[derive(Debug, Clone, Copy, Default)]
struct Counter {
    next: Option<u8>,
}

/// What the last frames say about the session.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Session {
    /// No frame of a session was seen.
    #[default]
    Unknown,
    /// Some frames carry these bits; no opening was seen.
    Seen(Mark),
    /// An opening was seen.
    Opened(u32),
}

/// What a frame shows of its session number: all 18 bits on unordered links, else two.
type Mark = (u8, Option<u16>);

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

fn matches(session: u32, (bits, tag): Mark) -> bool {
    session & BITS == u32::from(bits) && tag.is_none_or(|tag| session >> 2 == u32::from(tag))
}

impl Counter {
    /// How many numbers were skipped before this one; `None` if it was seen before.
    fn step(&mut self, number: u8, ordered: bool) -> Option<u8> {
        let Some(next) = self.next else {
            self.next = Some(number.wrapping_add(1));
            return Some(0);
        };
        let skipped = number.wrapping_sub(next);
        if skipped == u8::MAX || (!ordered && skipped >= 128) {
            return None;
        }
        self.next = Some(number.wrapping_add(1));
        Some(skipped)
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
    pub(super) fn frame(
        &mut self,
        at: Option<u64>,
        direction: Direction,
        header: &Header,
        payload: &[u8],
        sum: &mut Sum,
        told: &mut Told,
    ) -> u8 {
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
                self.extended(at, direction, header, payload, told);
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
        header.kind.class().map_or(1, |class| self.message(at, direction, class, header, payload, sum, told))
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

    #[allow(clippy::too_many_arguments)] // one call, on the hot path
    fn message(
        &mut self,
        at: Option<u64>,
        direction: Direction,
        class: Class,
        header: &Header,
        payload: &[u8],
        sum: &mut Sum,
        told: &mut Told,
    ) -> u8 {
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

    /// Whether a frame with this mark belongs to the session that is running; takes up a session whose opening was not seen.
    fn belongs(&mut self, direction: Direction, mark: Mark, sum: &mut Sum, told: &mut Told) -> bool {
        match self.session {
            Session::Opened(session) if matches(session, mark) => {}
            Session::Seen(seen) if seen == mark => {}
            Session::Unknown => self.session = Session::Seen(mark),
            Session::Seen(_) => {
                if !self.opened_unseen(direction, mark, sum, told) {
                    self.take_up(direction, mark, told);
                }
            }
            Session::Opened(_) => {
                if self.opened_unseen(direction, mark, sum, told) {
                    return true;
                }
                sum.other_session += 1;
                let times = match self.foreign {
                    Some((foreign, times)) if foreign == mark => times + 1,
                    _ => 1,
                };
                self.foreign = Some((mark, times));
                if times < ADOPT_AFTER {
                    told.push((direction, What::OtherSession { session: mark.0 }));
                    return false;
                }
                self.take_up(direction, mark, told);
            }
        }
        self.foreign = None;
        true
    }

    fn take_up(&mut self, direction: Direction, mark: Mark, told: &mut Told) {
        self.forget_numbers();
        self.session = Session::Seen(mark);
        told.push((direction, What::SessionUnseen { session: mark.0 }));
    }

    /// The last frame of an opening may be lost to us: do both sides' numbers make this mark?
    fn opened_unseen(&mut self, direction: Direction, mark: Mark, sum: &mut Sum, told: &mut Told) -> bool {
        let [Some(a), Some(b)] = [self.sides[0].open, self.sides[1].open] else { return false };
        let session = session_number(a.mine, b.mine);
        let answered = a.echo == Some(b.mine) || b.echo == Some(a.mine);
        if answered && matches(session, mark) && self.session != Session::Opened(session) {
            self.opened(direction, session, sum, told);
            return true;
        }
        false
    }

    fn open(&mut self, direction: Direction, open: Open, sum: &mut Sum, told: &mut Told) {
        if let Some(before) = self.sides[index(direction)].open.filter(|before| before.mine != open.mine) {
            let went_on = open.mine == before.mine.wrapping_add(1);
            if !went_on {
                sum.restarts += 1;
                told.push((direction, What::Restarted { cause: open.cause }));
            } else if !self.end_told {
                told.push((direction, What::Ended));
            }
            self.end_told = true;
        }
        self.sides[index(direction)].open = Some(open);
        if self.differs(direction, told) {
            return;
        }
        let Some(echo) = open.echo else { return };
        let session = session_number(open.mine, echo);
        let other = self.sides[index(opposite(direction))].open;
        let agreed = other.is_none_or(|other| other.mine == echo);
        // Who does not ask is up: with this the opening is complete (W-35).
        if !open.ask && agreed && self.session != Session::Opened(session) {
            self.opened(direction, session, sum, told);
        }
    }

    fn opened(&mut self, direction: Direction, session: u32, sum: &mut Sum, told: &mut Told) {
        self.forget_numbers();
        for side in &mut self.sides {
            side.confirmed = Confirmed::from_the_start();
            side.set_points.next = Some(0);
            side.notices.next = Some(0);
        }
        self.session = Session::Opened(session);
        self.foreign = None;
        self.end_told = false;
        sum.opened += 1;
        let [from_in, from_out] = [self.sides[0].open, self.sides[1].open];
        let both = [from_in, from_out].into_iter().flatten();
        told.push((
            direction,
            What::Opened {
                session,
                window: both.clone().map(|open| open.window).min().unwrap_or(1),
                max_payload: both.map(|open| open.max_payload).min().unwrap_or(0),
                identity_in: from_in.map_or(0, |open| open.identity),
                identity_out: from_out.map_or(0, |open| open.identity),
            },
        ));
    }

    /// Whether the two sides cannot work together; tells it once (W-30).
    fn differs(&mut self, direction: Direction, told: &mut Told) -> bool {
        let [Some(a), Some(b)] = [self.sides[0].open, self.sides[1].open] else { return false };
        let versions = a.version != b.version;
        let agreements =
            !versions && a.fingerprint != b.fingerprint && a.fingerprint != 0 && b.fingerprint != 0;
        if !versions && !agreements {
            return false;
        }
        if self.differs_told != Some((a.mine, b.mine)) {
            self.differs_told = Some((a.mine, b.mine));
            told.push((
                direction,
                What::Differs {
                    fingerprint_in: a.fingerprint,
                    fingerprint_out: b.fingerprint,
                    version_in: a.version,
                    version_out: b.version,
                },
            ));
        }
        true
    }

    fn extended(
        &mut self,
        at: Option<u64>,
        direction: Direction,
        header: &Header,
        body: &[u8],
        told: &mut Told,
    ) {
        let Some(&[low, high]) = body.first_chunk::<2>() else { return };
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

fn session_number(a: u32, b: u32) -> u32 {
    a.wrapping_add(b) & 0x3_FFFF
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
