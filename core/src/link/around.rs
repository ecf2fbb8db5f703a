//! What a machine around a link needs of it: a [`Leaf`](crate::star::Leaf) takes the frames first that are no link's own.

use super::{
    Link,
    receiver::Span,
    wake::{Wake, WakeReason, When},
};
use crate::{
    fcs::Fcs,
    frame::{Header, Reject},
    framing::{Fed, Framing, Lead, Step},
    retry::Policy,
    stats::Counter,
    time::{Duration, Instant, LONGEST, after, elapsed},
};

impl<F: Framing, C: Fcs, const FRAME: usize, const WINDOW: usize, const QUEUE: usize>
    Link<F, C, FRAME, WINDOW, QUEUE>
{
    /// As [`handle_octets`](Self::handle_octets), but the step is still to be taken: by [`handle_feed`](Self::handle_feed) if it is the link's.
    pub(crate) fn feed(&mut self, arrived: Instant, octets: &[u8]) -> Fed {
        self.take_octets(arrived, octets)
    }

    /// Takes a step of [`feed`](Self::feed).
    pub(crate) fn handle_feed(&mut self, step: Step) {
        self.handle_step(step);
    }

    /// The octets of a frame that [`feed`](Self::feed) found; they stay until more are fed.
    pub(crate) fn frame(&self, start: usize, len: usize) -> &[u8] {
        self.receiver.octets(Span::new(start, len))
    }

    /// When the first octet of that frame arrived.
    pub(crate) const fn arrived(&self) -> Instant {
        self.receiver.since.0
    }

    /// A frame that is not the link's was taken.
    pub(crate) fn count_received(&mut self) {
        self.measures.statistics.add(Counter::FramesReceived, 1);
    }

    /// So many messages are lost, by their number.
    pub(crate) fn count_lost(&mut self, counter: Counter, missed: u8) {
        self.measures.statistics.add(counter, usize::from(missed));
    }

    /// Counts a reject and tells it.
    pub(crate) fn tell_refused(&mut self, reject: Reject) {
        self.refuse(reject);
        self.untold = true;
    }

    /// Something valid was heard that is not the link's: asking goes back to its first pace (T_open).
    pub(crate) fn hear_valid(&mut self) {
        self.hasten_opening();
    }

    /// Whether the frame is of the session that is open.
    pub(crate) fn is_in_session(&self, header: &Header) -> bool {
        self.session.is_up() && self.is_of_session(header)
    }

    /// Whether a session is open.
    pub(crate) const fn is_up(&self) -> bool {
        self.session.is_up()
    }

    /// Whether it keeps quiet after its start (W-36).
    pub(crate) const fn keeps_quiet(&self) -> bool {
        self.is_hushed()
    }

    /// Time passes; gives how much.
    pub(crate) fn pass_time(&mut self, now: Instant) -> Duration {
        let before = self.measures.last;
        self.advance(now);
        elapsed(self.measures.last, before)
    }

    /// When it was last called.
    pub(crate) const fn last(&self) -> Instant {
        self.measures.0.last
    }

    /// To be served after so many microseconds.
    pub(crate) fn wake_in(&self, left: u32, reason: WakeReason) -> Wake {
        let left = Duration::from_ticks(left.min(LONGEST.as_ticks()));
        let when = if left.as_ticks() == 0 { When::Now } else { When::At(after(self.measures.last, left)) };
        Wake { when, reason }
    }

    /// The framing.
    pub(crate) const fn framing(&self) -> &F {
        &self.receiver.framing
    }

    /// The framing, whose addresses may change while no session is open.
    pub(crate) const fn framing_mut(&mut self) -> &mut F {
        &mut self.receiver.framing
    }

    /// How a frame that is sent now is to begin.
    pub(crate) fn lead(&self) -> Lead {
        self.line.lead()
    }

    /// A frame that is not the link's was handed to the line; gives its octets.
    pub(crate) fn count_own(&mut self, len: usize) -> usize {
        self.count_sent(len)
    }

    /// The time until the last octet has left the board.
    pub(crate) fn busy(&self) -> Duration {
        self.line.busy()
    }

    /// How asking is repeated: the time-out of the first one (T_open), and the policy.
    pub(crate) fn asking(&self) -> (Duration, Policy) {
        (self.t_open(), self.opening_policy())
    }
}
