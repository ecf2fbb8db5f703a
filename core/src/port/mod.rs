//! The easy way in: a link, its buffers and a line in one object.

#[cfg(feature = "postcard")]
mod typed;
mod wait;

#[cfg(feature = "postcard")]
pub use typed::PostError;
pub use wait::Finish;

use crate::{
    fcs::{Fcs, Fcs16},
    frame::Class,
    framing::{self, Cobs, Framing},
    io::{Datagram, Line, Taken, Whole},
    link::{Config, Event, Link, Peer, SendError, State, Ticket, Wake, WakeReason, When},
    stats::Statistics,
    time::Instant,
};

/// The most octets taken from the line before [`Port::service`] gives no event for once, so that no flood holds a caller who asks until
/// there is none.
pub const BURST: usize = 2048;

/// A link with its buffers on a line: two boards talk with a handful of calls.
///
/// # Verbs
/// [`open`](Self::open) and [`close`](Self::close); `set`, `errand`, `report`, `notice` (with the feature `postcard`; else [`send`](Self::send)) hand over
/// a message; [`service`](Self::service) moves octets both ways, runs the timers and gives the next event; [`state`](Self::state) and
/// [`poll_wake`](Self::poll_wake) look. Before `open` a port only answers probes and questions for
/// statistics (W-48), and it does nothing at all outside of its calls.
///
/// # The loop
/// Call [`service`](Self::service) until it gives no event, then do your own work, then wait until [`poll_wake`](Self::poll_wake) or until the line
/// has something. Between two rounds must be much less than the shortest freshness limit.
///
/// # What it does underneath
/// One call of `service` is, in this order: an event that waits is given at once ([`Link::poll_event`]); else [`Link::handle_timeout`];
/// then [`Line::take`] and [`Link::handle_octets`] until an event waits or nothing more is there; then [`Link::poll_transmit`] and
/// [`Line::put`] until there is nothing to send or no room. The port itself holds at most one encoded frame that the line did not take yet; behind a line that
/// stands still that frame, and the newest value in the link, grow old, and the receiver sees no age in them (W-46).
///
/// # Sizes
/// `FRAME`, `WINDOW` and `QUEUE` are those of [`Link`]. The port adds 3 `FRAME` octets of buffers.
///
/// ```
/// use bellwire::{io::Memory, link::{Config, OwnNumber, State}, port::Port, time::Instant};
///
/// let now = Instant::from_ticks(0);
/// let mut port = Port::uart(Memory::<256>::new(), Config::uart(115_200, OwnNumber::Random(0x2F0C_66D1)), now);
/// port.open(now);
/// assert_eq!(port.service(now), Ok(None));
/// assert_eq!(port.state(), State::Down);
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Port<
    L,
    F: Framing = Cobs,
    C = Fcs16,
    const FRAME: usize = 64,
    const WINDOW: usize = 1,
    const QUEUE: usize = 4,
> {
    line: L,
    pub(crate) link: Link<F, C, FRAME, WINDOW, QUEUE>,
    incoming: Incoming<FRAME>,
    outgoing: Outgoing<FRAME>,
    /// Octets taken since `service` last gave no event.
    taken: usize,
}

/// Octets taken from the line that the link has not had yet.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Incoming<const FRAME: usize> {
    octets: [u8; FRAME],
    next: usize,
    end: usize,
    arrived: Instant,
}

impl<const FRAME: usize> core::hash::Hash for Incoming<FRAME> {
    fn hash<H: core::hash::Hasher>(&self, state: &mut H) {
        (self.octets, self.next, self.end, self.arrived.as_ticks()).hash(state);
    }
}

/// One encoded frame that the line has not had yet. No frame of a `FRAME`-octet link takes more than 2 `FRAME` octets in any framing: it has at
/// most `FRAME` - 4 (payload `FRAME` - 16, header 8, FCS 4), and octet stuffing makes 2n + 2 of n.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
struct Outgoing<const FRAME: usize> {
    octets: [[u8; FRAME]; 2],
    next: usize,
    end: usize,
}

impl<L: Line> Port<L> {
    /// A port on a UART, or another octet stream, with the defaults for two boards: COBS, 16-bit FCS, payloads up to 48 octets, window 1, queue 4.
    /// It stays closed until [`open`](Self::open).
    #[must_use]
    pub fn uart(line: L, config: Config, now: Instant) -> Self {
        Self::new(line, Cobs, config, now)
    }
}

impl<D: Datagram> Port<Whole<D>, framing::Datagram> {
    /// A port on a radio or socket that carries datagrams, with the same defaults. It stays closed until [`open`](Self::open).
    #[must_use]
    pub fn datagram(radio: D, config: Config, now: Instant) -> Self {
        Self::new(Whole::new(radio), framing::Datagram, config, now)
    }
}

impl<L: Line, F: Framing, C: Fcs, const FRAME: usize, const WINDOW: usize, const QUEUE: usize>
    Port<L, F, C, FRAME, WINDOW, QUEUE>
{
    /// A port with everything chosen: `Port::<_, _, Fcs32, 256, 4, 8>::new(line, framing, config, now)`. It stays closed until [`open`](Self::open).
    #[must_use]
    pub fn new(line: L, framing: F, config: Config, now: Instant) -> Self {
        let mut link = Link::new(framing, config, now);
        link.close(now);
        Self {
            line,
            link,
            incoming: Incoming { octets: [0; FRAME], next: 0, end: 0, arrived: now },
            outgoing: Outgoing { octets: [[0; FRAME]; 2], next: 0, end: 0 },
            taken: 0,
        }
    }

    /// Starts to open the link, and keeps it open from now on: after an end it opens again by itself. (What an end has stopped does not
    /// start again by itself: see [`DeadMan`](crate::setpoint::DeadMan).) Does nothing if it is open.
    pub fn open(&mut self, now: Instant) {
        self.link.reopen(now);
    }

    /// Ends the session, if there is one, and stays closed until [`open`](Self::open).
    pub fn close(&mut self, now: Instant) {
        self.link.close(now);
    }

    /// Moves octets both ways without waiting, runs the timers, and gives the next event. Call again until it gives none; after [`BURST`] octets
    /// it gives none although more may be there, so that a loop of such calls ends, whatever comes in.
    ///
    /// # Errors
    /// Those of the line. The port is as before and can be served again.
    pub fn service(&mut self, now: Instant) -> Result<Option<Event<'_>>, L::Error> {
        if !self.link.has_event() {
            self.link.handle_timeout(now);
            self.receive(now)?;
        }
        if !self.link.has_event() {
            self.taken = 0;
            self.transmit(now)?;
        }
        Ok(self.link.poll_event())
    }

    /// Hands over a message; `payload` begins with the message number. Set-points and notices have no outcome.
    ///
    /// # Errors
    /// [`SendError`]; it is then certain that it was not sent.
    pub fn send(&mut self, now: Instant, class: Class, payload: &[u8]) -> Result<Ticket, SendError> {
        self.link.send(now, class, payload)
    }

    /// State of the link.
    #[must_use]
    pub fn state(&self) -> State {
        self.link.state()
    }

    /// The other board, while a session is open.
    #[must_use]
    pub fn peer(&self) -> Option<Peer> {
        self.link.peer()
    }

    /// What was counted so far.
    #[must_use]
    pub fn statistics(&self) -> &Statistics {
        self.link.statistics()
    }

    /// When [`service`](Self::service) must be called next if the line has nothing before. The reason `Transmit` with a time other than `Now`
    /// means that the line had no room for all of a frame: call again as soon as it has, or at that time.
    ///
    /// A board that drives something must also wake for its [`DeadMan`](crate::setpoint::DeadMan::poll_wake).
    #[must_use]
    pub fn poll_wake(&self) -> Wake {
        if self.incoming.next < self.incoming.end {
            return Wake { when: When::Now, reason: WakeReason::Event };
        }
        match self.link.poll_wake() {
            wake if !self.is_stuck() || wake.reason == WakeReason::Event => wake,
            Wake { when: When::Now, .. } => Wake { when: When::Idle, reason: WakeReason::Transmit },
            Wake { when, .. } => Wake { when, reason: WakeReason::Transmit },
        }
    }

    /// Whether a frame waits for room on the line.
    const fn is_stuck(&self) -> bool {
        self.outgoing.next < self.outgoing.end
    }

    /// The link, for what the verbs do not cover.
    #[must_use]
    pub const fn link(&self) -> &Link<F, C, FRAME, WINDOW, QUEUE> {
        &self.link
    }

    /// The link, for probes and statistics.
    #[must_use]
    pub const fn link_mut(&mut self) -> &mut Link<F, C, FRAME, WINDOW, QUEUE> {
        &mut self.link
    }

    /// The line.
    #[must_use]
    pub const fn line(&self) -> &L {
        &self.line
    }

    /// The line, to set it up or to wait on it.
    #[must_use]
    pub const fn line_mut(&mut self) -> &mut L {
        &mut self.line
    }

    /// Takes octets and feeds the link until an event waits, nothing more is there, or the burst is over.
    fn receive(&mut self, now: Instant) -> Result<(), L::Error> {
        while !self.link.has_event() {
            let Incoming { octets, next, end, arrived } = &mut self.incoming;
            if *next >= *end {
                if self.taken >= BURST {
                    return Ok(());
                }
                let taken: Taken = self.line.take(now, octets)?;
                if taken.octets == 0 {
                    return Ok(());
                }
                (*next, *end, *arrived) = (0, taken.octets.min(FRAME), taken.arrived);
                self.taken = self.taken.saturating_add(taken.octets);
            }
            let waiting = octets.get(*next..*end).unwrap_or_default();
            let done = self.link.handle_octets(*arrived, waiting);
            *next = next.saturating_add(done);
            if done == 0 {
                return Ok(());
            }
        }
        Ok(())
    }

    /// Puts out frames until there is none or no room.
    fn transmit(&mut self, now: Instant) -> Result<(), L::Error> {
        loop {
            self.tell_unsent(now);
            let Outgoing { octets, next, end } = &mut self.outgoing;
            let octets = octets.as_flattened_mut();
            if *next >= *end {
                let Some(len) = self.link.poll_transmit(now, octets) else { return Ok(()) };
                (*next, *end) = (0, len);
            }
            let waiting = octets.get(*next..*end).unwrap_or_default();
            if waiting.is_empty() {
                continue;
            }
            let put = self.line.put(waiting)?;
            *next = next.saturating_add(put);
            if put == 0 {
                return Ok(());
            }
        }
    }

    /// Tells the link what waits before the line, as far as it is known (W-46).
    fn tell_unsent(&mut self, now: Instant) {
        let held = self.outgoing.end.saturating_sub(self.outgoing.next);
        match self.line.unsent() {
            Some(unsent) => self.link.handle_unsent(now, unsent.saturating_add(held)),
            None if held > 0 => self.link.handle_unsent(now, held),
            None => {}
        }
    }
}

#[cfg(test)]
mod tests;
