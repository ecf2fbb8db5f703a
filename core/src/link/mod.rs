//! The point-to-point machine: a conversation over one line, without I/O and without a clock.
//!
//! # Grammar
//! - `handle_*` takes what happened and the time: octets that arrived, a wake-up, what the driver still holds.
//! - Commands ([`send`](Link::send), [`probe`](Link::probe), [`close`](Link::close) …) take what the application wants; an item that is not
//!   accepted was not sent, for certain.
//! - `poll_*` gives what the link wants: events, frames, and when to be woken and why.
//!
//! # The law
//! After any `handle_*` or command, drain [`poll_event`](Link::poll_event), then [`poll_transmit`](Link::poll_transmit) until it gives `None`,
//! then sleep until [`poll_wake`](Link::poll_wake) or until something arrives.
//!
//! # The loop
//! ```
//! use bellwire::link::{Config, Event, Link, OwnNumber, When};
//! use bellwire::{framing::Cobs, time::Instant};
//!
//! /// One turn of the loop: `received` came in at `now`; what is to go out is written to `line`.
//! fn serve(link: &mut Link, now: Instant, mut received: &[u8], line: &mut Vec<u8>) -> When {
//!     link.handle_timeout(now);
//!     loop {
//!         let done = link.handle_octets(now, received);
//!         received = &received[done..];
//!         while let Some(event) = link.poll_event() {
//!             if let Event::Message(message) = event {
//!                 println!("{:?} {}", message.class, message.message.get());
//!             }
//!         }
//!         let mut frame = [0; 80];
//!         while let Some(len) = link.poll_transmit(now, &mut frame) {
//!             line.extend_from_slice(&frame[..len]);
//!         }
//!         if received.is_empty() {
//!             return link.poll_wake().when;
//!         }
//!     }
//! }
//!
//! let config = Config::uart(115_200, OwnNumber::Random(0x5EED_0001));
//! let mut link: Link = Link::new(Cobs, config, Instant::from_ticks(0));
//! let mut line = Vec::new();
//! serve(&mut link, Instant::from_ticks(0), &[], &mut line);
//! assert_eq!(line.len(), 32, "an OPEN: 27 octets, FCS 2, COBS 1, delimiters 2");
//! ```
//!
//! # State
//! A link is plain data: it can be cloned, compared and hashed. Deadlines are kept as the time that is left; statistics, the round-trip
//! estimate, the random parts of time-outs and absolute times stand apart and are not compared.

mod answer;
pub(crate) mod apart;
mod around;
mod asleep;
mod command;
mod config;
mod confirmed;
mod event;
mod far;
mod flight;
mod inbox;
mod input;
mod item;
pub(crate) mod line;
mod measures;
pub(crate) mod news;
mod opening;
mod outbox;
mod output;
mod overtaking;
mod queue;
pub(crate) mod receiver;
pub(crate) mod set_points;
pub(crate) mod slot;
pub(crate) mod stated;
mod timeout;
mod timers;
mod transmit;
mod wake;

use core::marker::PhantomData;

pub use asleep::{NotResumed, StaysAwake};
pub use config::{Config, OwnNumber};
pub use event::{EndReason, Event, Message, Outcome, Peer, SendError, State, Terms, Ticket};
pub use wake::{Wake, WakeReason, When};

use self::{
    apart::Apart,
    far::Far,
    inbox::Inbox,
    line::Line,
    measures::Measures,
    news::{News, Probe, Wanted},
    outbox::Outbox,
    overtaking::Overtaking,
    receiver::Receiver,
    set_points::SetPoints,
    stated::Stated,
    timers::{Timer, Timers},
};
use crate::{
    fcs::{Fcs, Fcs16},
    frame::max_wire_len,
    framing::{
        Cobs, Framing,
        order::{Order as LineOrder, Room},
    },
    retry::{Dice, Policy, Retry},
    rtt::RoundTrip,
    rules::holds,
    seq::Serial,
    session::{Order, Reply, Session},
    stats::Statistics,
    time::{Duration, Instant, elapsed},
};

/// The largest random part of a time-out, in 256ths (W-50).
pub(crate) const A_QUARTER: u8 = 64;

/// What the sender counts in a session.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
struct Sent {
    set_point: Serial,
    notice: Serial,
    /// A set-point went last: where others wait, one of them goes before the next.
    others_turn: bool,
}

/// A link between two boards.
///
/// `FRAME` is the size of the receive buffer in octets (48..=1040); the largest payload is `FRAME` - 16. `WINDOW` (1..=8) confirmed
/// frames may be under way each way, and `QUEUE` (at least `WINDOW`) items wait or are under way for sending. Other sizes do not compile.
///
/// See the [module](self) for the grammar, the law and the loop. No method panics on any input.
///
/// ```compile_fail
/// # use bellwire::{fcs::Fcs16, framing::Cobs, link::{Config, Link, OwnNumber}, time::Instant};
/// // A queue that is smaller than the window.
/// let _: Link<Cobs, Fcs16, 64, 8, 4> =
///     Link::new(Cobs, Config::uart(115_200, OwnNumber::Stored(1)), Instant::from_ticks(0));
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
#[repr(C)]
pub struct Link<
    F: Framing = Cobs,
    C = Fcs16,
    const FRAME: usize = 64,
    const WINDOW: usize = 1,
    const QUEUE: usize = 4,
> {
    // The small and the busy first: a small board reaches the first 32 octets (as words 128) of an object with one instruction each.
    quiet: bool,
    closed: bool,
    /// An event may wait.
    untold: bool,
    notices: Serial,
    set_points: SetPoints,
    sent: Sent,
    /// What is to be sent that belongs to no session.
    wanted: Wanted,
    news: News,
    /// The largest payload that the peer takes, as it last said.
    peer_takes: u16,
    session: Session,
    /// An OPEN to send.
    owed: Option<Reply>,
    timers: Timers,
    line: Line,
    far: Far,
    probe: Probe,
    opening: Retry,
    stated: Stated,
    measures: Apart<Measures>,
    outbox: Outbox<FRAME, WINDOW, QUEUE>,
    overtaking: <F::Order as LineOrder>::Room<Overtaking>,
    receiver: Receiver<F, FRAME>,
    inbox: Inbox<FRAME, WINDOW>,
    fcs: PhantomData<C>,
}

impl<F: Framing, C: Fcs, const FRAME: usize, const WINDOW: usize, const QUEUE: usize>
    Link<F, C, FRAME, WINDOW, QUEUE>
{
    /// The largest payload that the receive buffer allows, octets, message number included.
    pub const MAX_PAYLOAD: usize = FRAME.saturating_sub(16).saturating_sub(F::EXTRA);

    /// A link that is down and asks its peer to open as soon as it is served (a numberless board keeps quiet first, W-36).
    #[must_use]
    #[inline(never)]
    pub fn new(framing: F, config: Config, now: Instant) -> Self {
        const {
            assert!(FRAME >= 48 && FRAME <= 1040, "FRAME must be 48..=1040 octets");
            assert!(WINDOW >= 1 && WINDOW <= 8, "WINDOW must be 1..=8");
            assert!(QUEUE >= WINDOW && QUEUE <= 255, "QUEUE must be WINDOW..=255");
        }
        let (mine, numberless) = match config.own {
            OwnNumber::Stored(number) | OwnNumber::Random(number) => (number, false),
            OwnNumber::Numberless => (0, true),
        };
        let order = if F::ORDERED { Order::Ordered } else { Order::Unordered };
        let line = Line::new(config.octet_rate);
        let lifetime = config.lifetime.as_ticks();
        let largest_frame = Self::largest_frame(&line, Self::MAX_PAYLOAD);
        let session = Session::new(mine, numberless, order);
        let mut dice = Dice::new(config.jitter_seed);
        let opening = Self::opening_on(&line, lifetime, &mut dice);
        let hushed = numberless && holds(36);
        let silence = if hushed { Self::hush_on(&line, lifetime) } else { Timer::OFF };
        let owed = if hushed { None } else { Some(Reply::Ask) };
        // Built where it is to be: a copy on the way would need the stack for it twice.
        Self {
            quiet: false,
            closed: false,
            untold: false,
            notices: Serial::default(),
            set_points: SetPoints::default(),
            sent: Sent::default(),
            wanted: Wanted::default(),
            news: News::default(),
            peer_takes: u16::MAX,
            session,
            owed,
            timers: Timers { silence, ..Timers::default() },
            line,
            far: Far::NOBODY,
            probe: Probe::NONE,
            opening,
            stated: Stated::new(&config),
            outbox: Outbox::new(),
            overtaking: Room::with(|| Overtaking::new(lifetime)),
            receiver: Receiver::new(framing),
            inbox: Inbox::new(),
            measures: Apart(Measures::new(now, largest_frame, dice)),
            fcs: PhantomData,
        }
    }

    /// The octets that one call of [`poll_transmit`](Self::poll_transmit) may need.
    #[must_use]
    pub fn max_transmit() -> usize {
        F::max_encoded_len(FRAME)
    }

    /// The state.
    #[must_use]
    pub const fn state(&self) -> State {
        match (self.session.is_up(), self.quiet) {
            (false, _) => State::Down,
            (true, false) => State::Up,
            (true, true) => State::Quiet,
        }
    }

    /// The other board, while a session is open.
    #[must_use]
    pub fn peer(&self) -> Option<Peer> {
        self.far.as_peer(self.session.number())
    }

    /// The own number of the present or coming session (W-22). It rises by one with every session that ends: a board that stores its number
    /// must have stored a larger one before this reaches what it stored.
    #[must_use]
    pub const fn own_number(&self) -> u32 {
        self.session.mine()
    }

    /// What the framing keeps: on a [`RadioBoard`](crate::framing::RadioBoard) how strong the last datagram was heard.
    #[must_use]
    pub const fn framing_state(&self) -> &F::State {
        self.receiver.framing_state()
    }

    /// What was counted so far.
    #[must_use]
    pub const fn statistics(&self) -> &Statistics {
        &self.measures.0.statistics
    }

    /// What is known about the round trip in this session.
    #[must_use]
    pub fn round_trip(&self) -> RoundTrip {
        self.measures.round_trip(Self::CEILING)
    }

    /// Time passes: the time left of every deadline shrinks.
    #[inline]
    fn advance(&mut self, now: Instant) {
        if now != self.measures.last {
            self.step(now);
        }
    }

    #[inline(never)]
    fn step(&mut self, now: Instant) {
        let span = elapsed(now, self.measures.last);
        if span.as_ticks() > 0 {
            self.pass(now, span);
        } else {
            self.measures.step_back(now);
        }
    }

    #[inline(never)]
    fn pass(&mut self, now: Instant, span: Duration) {
        self.measures.pass(now, span);
        self.timers.elapse(span);
        self.line.elapse(span);
        if self.session.is_up() {
            self.outbox.elapse(span);
        } else {
            self.opening.elapse(span);
        }
        if let Some(overtaking) = self.overtaking.get_mut() {
            overtaking.elapse(span);
        }
    }

    /// Whether [`poll_event`](Self::poll_event) has something to give: for a caller that must not borrow the link to find out.
    #[must_use]
    pub fn has_event(&self) -> bool {
        self.untold && self.has_news()
    }

    /// Notes whether an event waits.
    fn note_news(&mut self) {
        self.untold = self.has_news();
    }

    fn has_news(&self) -> bool {
        self.receiver.found.is_some() || self.inbox.is_ready() || self.news.any() || self.outbox.has_news()
    }

    /// Window of the session.
    fn window(&self) -> u8 {
        self.far.window()
    }

    /// The longest time-out that any back-off reaches (W-49).
    pub(crate) const CEILING: Duration =
        Duration::from_ticks(if F::ORDERED { 1_000_000 } else { 10_000_000 });

    pub(crate) fn largest_frame(line: &Line, max_payload: usize) -> Duration {
        line.time(max_wire_len::<F, C>(max_payload))
    }

    /// How confirmed items are tried again (W-37, W-50).
    fn item_policy(&self) -> Policy {
        Policy { tries: Some(self.stated.tries), ceiling: Self::CEILING.as_ticks(), spread: A_QUARTER }
    }

    /// Whether rules for unordered links apply.
    const fn is_unordered() -> bool {
        !F::ORDERED
    }

    /// Whether one more new number may be sent now (W-42).
    fn confirmed_pace_is_open(&self) -> bool {
        let most = 255_u8.saturating_sub(self.window().saturating_mul(2)).saturating_add(1);
        self.overtaking.get().is_none_or(|books| !holds(42) || books.confirmed_pace.is_open(most))
    }

    /// Whether one more set-point may be sent now (W-45).
    fn set_point_pace_is_open(&self) -> bool {
        self.overtaking.get().is_none_or(|books| !holds(45) || books.set_point_pace.is_open(127))
    }
}

#[cfg(test)]
mod tests;
