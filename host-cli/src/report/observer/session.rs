//! Which session runs, as far as a listener can tell.

use super::{Observer, Told, index, opposite};
use crate::{
    endpoint::Direction,
    report::{Sum, What, confirmed::Confirmed},
};
use bellwire::frame::Open;

/// After so many frames in a row with the same foreign session bits, that session is taken to be the real one.
const ADOPT_AFTER: u8 = 3;

/// Bits of a session number that travel in the control octet, and in the tag above them.
pub(super) const BITS: u32 = 3;

/// What the last frames say about the session.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum Session {
    /// No frame of a session was seen.
    #[default]
    Unknown,
    /// Some frames carry these bits; no opening was seen.
    Seen(Mark),
    /// An opening was seen.
    Opened(u32),
}

/// What a frame shows of its session number: all 18 bits on unordered links, else two.
pub(super) type Mark = (u8, Option<u16>);

fn matches(session: u32, (bits, tag): Mark) -> bool {
    session & BITS == u32::from(bits) && tag.is_none_or(|tag| session >> 2 == u32::from(tag))
}

impl Observer {
    /// Whether a frame with this mark belongs to the session that is running; takes up a session whose opening was not seen.
    pub(super) fn belongs(
        &mut self,
        direction: Direction,
        mark: Mark,
        sum: &mut Sum,
        told: &mut Told,
    ) -> bool {
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

    pub(super) fn open(&mut self, direction: Direction, open: Open, sum: &mut Sum, told: &mut Told) {
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
}

fn session_number(a: u32, b: u32) -> u32 {
    a.wrapping_add(b) & 0x3_FFFF
}
