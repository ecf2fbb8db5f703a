//! Boards that ask to be taken on the roster (W-60); both JOIN and WELCOME go without addresses.

use super::{Hub, common::Common};
use crate::{
    fcs::Fcs,
    frame::{Header, Kind, Open},
    framing::Framing,
    link::receiver::Span,
    star::{Join, Welcome, extended::EXTENDED},
    time::Instant,
};

impl<F: Framing, C: Fcs, const LEAVES: usize, const POOL: usize, const FRAME: usize>
    Hub<F, C, LEAVES, POOL, FRAME>
{
    /// A board that asks to be taken on the roster, once. The first one is kept until it is taken: who is not answered asks again.
    pub fn take_join(&mut self) -> Option<Join> {
        self.common.join.take()
    }

    /// Answers a board that asked: the next [`poll_transmit`](Self::poll_transmit) gives the WELCOME. A second one takes the place of one that has not left.
    pub fn welcome(&mut self, now: Instant, welcome: Welcome) {
        self.common.advance(now);
        self.common.welcome = Some(welcome);
    }
}

impl<F: Framing, C: Fcs, const POOL: usize, const FRAME: usize> Common<F, C, POOL, FRAME> {
    /// Looks whether a frame without addresses is a JOIN.
    pub(super) fn take_join(&mut self, frame: Span) {
        if let &[EXTENDED, Join::CODE, ref body @ ..] = self.receiver.octets(frame)
            && self.join.is_none()
        {
            self.join = Join::parse(body);
        }
    }

    /// The identity that a frame shows, if it is an OPEN that shows one.
    pub(super) fn identity(&self, frame: Span) -> Option<u64> {
        let octets = self.receiver.octets(frame);
        if Kind::from_control(*octets.first()?) != Some(Kind::Open) {
            return None;
        }
        let (_, len) = Header::read(octets, !F::ORDERED).ok()?;
        Open::parse(octets.get(len..)?).ok().map(|open| open.identity).filter(|&identity| identity != 0)
    }

    /// Writes the WELCOME that is owed.
    #[inline(never)]
    pub(super) fn send_welcome(&mut self, out: &mut [u8]) -> Option<usize> {
        let welcome = self.welcome.take()?;
        let len = welcome.write::<F, C>(&self.receiver.framing, self.line.lead(), out);
        Some(self.count_sent(len))
    }
}
