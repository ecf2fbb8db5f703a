//! Frames out, what is due, and when to be woken.

use super::Leaf;
use crate::{
    fcs::Fcs,
    framing::Framing,
    link::{Wake, WakeReason, When},
    star::{
        Join, Told,
        extended::{self, TURN},
    },
    time::{Instant, elapsed},
};

impl<F: Framing, C: Fcs, const FRAME: usize, const WINDOW: usize, const QUEUE: usize>
    Leaf<F, C, FRAME, WINDOW, QUEUE>
{
    /// Writes the next frame into `out`, encoded and ready for the medium; gives its length. Whether it may be sent now is another question: [`Access`](crate::star::Access).
    ///
    /// `out` should hold [`max_transmit`](Self::max_transmit) octets. A frame that does not fit is given as no octets at all, as if the medium had lost it.
    #[must_use]
    pub fn poll_transmit(&mut self, now: Instant, out: &mut [u8]) -> Option<usize> {
        self.advance(now);
        self.take_address();
        if self.link.keeps_quiet() {
            return None;
        }
        if self.joining.asks() {
            let body = self.joining.body();
            let medium = self.link.framing().of_medium();
            let len = extended::write::<F, C>(medium, Join::CODE, &body, self.link.lead(), out);
            let len = self.link.count_own(len);
            self.joining.sent(self.link.busy());
            return Some(len);
        }
        self.joining.address()?;
        let (t_open, _) = self.link.asking();
        if self.link.is_up() && self.to_all.poll_ask(t_open) {
            return Some(self.write_own(Told::CODE, out));
        }
        self.link.poll_transmit(now, out)
    }

    /// The one frame of this leaf's turn on a shared wire (W-58): the next frame, or else TURN, which has nothing to say. Gives its length; zero without an address.
    #[must_use]
    pub fn poll_turn(&mut self, now: Instant, out: &mut [u8]) -> usize {
        match self.poll_transmit(now, out) {
            Some(len) => len,
            None if self.joining.address().is_some() => self.write_own(TURN, out),
            None => 0,
        }
    }

    /// A frame to the hub without a body that is not the link's.
    fn write_own(&mut self, code: u8, out: &mut [u8]) -> usize {
        let len = extended::write::<_, C>(self.link.framing(), code, &[], self.link.lead(), out);
        self.link.count_own(len)
    }

    /// Does what is due at `now`. Early or needless calls are harmless; late ones make the leaf slow, not wrong.
    pub fn handle_timeout(&mut self, now: Instant) {
        self.advance(now);
        self.link.handle_timeout(now);
        self.joining.expire();
    }

    /// When the leaf must be served next, and why.
    #[must_use]
    pub fn poll_wake(&self) -> Wake {
        if self.has_event() {
            return self.link.wake_in(0, WakeReason::Event);
        }
        if self.link.keeps_quiet() {
            return self.link.poll_wake();
        }
        if self.joining.asks() {
            return self.link.wake_in(0, WakeReason::Transmit);
        }
        let joining = self.joining.left();
        if self.joining.address().is_none() {
            let idle = Wake { when: When::Idle, reason: WakeReason::Nothing };
            return joining.map_or(idle, |left| self.link.wake_in(left, WakeReason::Joining));
        }
        let asking = self.to_all.ask_wait().filter(|_| self.link.is_up()).map(|left| left.as_ticks());
        let wake = self.sooner(self.link.poll_wake(), asking, WakeReason::ToAll);
        self.sooner(wake, joining, WakeReason::Joining)
    }

    fn sooner(&self, wake: Wake, left: Option<u32>, reason: WakeReason) -> Wake {
        let Some(left) = left else { return wake };
        let is_sooner = match wake.when {
            When::Now => false,
            When::At(at) => left < elapsed(at, self.link.last()).as_ticks(),
            When::Idle => true,
        };
        if is_sooner { self.link.wake_in(left, reason) } else { wake }
    }
}
