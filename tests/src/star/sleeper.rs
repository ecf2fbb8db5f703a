//! A leaf that sleeps deeply between its reports: of its link it keeps 16 octets, and goes on with a link that is made anew.

use bellwire::{
    fcs::Fcs16,
    frame::Class,
    framing::Framing,
    link::{Config, Event, Link, Outcome, Peer, SendError, State, Ticket, Wake, WakeReason, When},
    star::{ASLEEP_LEN, Addressed, Asleep},
    stats::Statistics,
    time::{Duration, Instant, after, elapsed},
};
use bellwire_cli::machine::Machine;
use std::{
    collections::VecDeque,
    sync::{
        Arc,
        atomic::{AtomicU64, Ordering},
    },
};

/// How long it listens after each of its frames and after each that it hears.
pub(super) const AWAKE: Duration = Duration::from_millis(30);
/// It wakes so often at least, and says something: a hub that was restarted meanwhile shows then.
const NAP: Duration = Duration::from_millis(5_000);
/// What it says then; no message of the books.
pub(super) const HERE: [u8; 1] = [1];

type TheLink<F> = Link<Addressed<F>, Fcs16, 64, 1, 4>;

/// A link, or what is left of it.
enum Body<F: Framing> {
    Awake(Box<TheLink<F>>),
    Asleep { kept: [u8; ASLEEP_LEN], since: Instant, peer: Peer },
}

/// The link of such a leaf.
pub(super) struct Sleeper<F: Framing> {
    framing: Addressed<F>,
    config: Config,
    body: Body<F>,
    awake_until: Instant,
    /// What it was told when it fell asleep.
    told: VecDeque<(Ticket, Outcome)>,
    none: Statistics,
    naps: Arc<AtomicU64>,
}

impl<F: Framing> Sleeper<F> {
    pub(super) fn new(framing: Addressed<F>, config: Config, naps: Arc<AtomicU64>, now: Instant) -> Self {
        let link = Box::new(TheLink::new(framing.clone(), config, now));
        let (awake_until, none) = (after(now, AWAKE), Statistics::default());
        Self { framing, config, body: Body::Awake(link), awake_until, told: VecDeque::new(), none, naps }
    }

    fn stay_awake(&mut self, now: Instant) {
        self.awake_until = after(now, AWAKE);
    }

    /// Falls asleep, if it is time and there is a session to keep.
    fn fall_asleep(&mut self, now: Instant) {
        let Body::Awake(link) = &mut self.body else { return };
        if elapsed(self.awake_until, now).as_ticks() > 0 {
            return;
        }
        let Some(peer) = link.peer() else { return };
        let Ok(asleep) = link.fall_asleep(now) else { return };
        while let Some(event) = link.poll_event() {
            if let Event::Outcome { ticket, outcome } = event {
                self.told.push_back((ticket, outcome));
            }
        }
        let kept = asleep.octets().expect("a window of one");
        self.body = Body::Asleep { kept, since: now, peer };
    }

    /// Wakes, if it has slept for as long as a copy of a frame may live.
    fn wake(&mut self, now: Instant) -> Option<&mut TheLink<F>> {
        if let Body::Asleep { kept, since, .. } = &mut self.body {
            let slept = elapsed(now, *since);
            if slept < self.config.lifetime {
                return None;
            }
            let asleep = Asleep::take(kept).expect("what it wrote itself");
            let link = TheLink::resume(self.framing.clone(), self.config, &asleep, slept, now);
            self.body = Body::Awake(Box::new(link.expect("of the same board")));
            self.naps.fetch_add(1, Ordering::Relaxed);
            self.stay_awake(now);
        }
        match &mut self.body {
            Body::Awake(link) => Some(link),
            Body::Asleep { .. } => None,
        }
    }
}

impl<F: Framing> Machine for Sleeper<F>
where
    F: Send,
    F::State: Send,
{
    fn handle_octets(&mut self, arrived: Instant, octets: &[u8]) -> usize {
        match &mut self.body {
            Body::Awake(link) => {
                let done = link.handle_octets(arrived, octets);
                self.stay_awake(arrived);
                done
            }
            // Its radio is off.
            Body::Asleep { .. } => octets.len(),
        }
    }

    fn handle_timeout(&mut self, now: Instant) {
        if let Body::Asleep { since, .. } = &self.body
            && elapsed(now, *since) >= NAP
            && let Some(link) = self.wake(now)
        {
            let _ = link.send(now, Class::Notice, &HERE);
        }
        if let Body::Awake(link) = &mut self.body {
            link.handle_timeout(now);
        }
        self.fall_asleep(now);
    }

    fn handle_unsent(&mut self, now: Instant, octets: usize) {
        if let Body::Awake(link) = &mut self.body {
            link.handle_unsent(now, octets);
        }
    }

    fn send(&mut self, now: Instant, class: Class, payload: &[u8]) -> Result<Ticket, SendError> {
        self.wake(now).ok_or(SendError::NotOpen)?.send(now, class, payload)
    }

    fn close(&mut self, now: Instant) {
        if let Body::Awake(link) = &mut self.body {
            link.close(now);
        }
    }

    fn poll_event(&mut self) -> Option<Event<'_>> {
        if let Some((ticket, outcome)) = self.told.pop_front() {
            return Some(Event::Outcome { ticket, outcome });
        }
        match &mut self.body {
            Body::Awake(link) => link.poll_event(),
            Body::Asleep { .. } => None,
        }
    }

    fn poll_transmit(&mut self, now: Instant, out: &mut [u8]) -> Option<usize> {
        let Body::Awake(link) = &mut self.body else { return None };
        let len = link.poll_transmit(now, out)?;
        self.stay_awake(now);
        Some(len)
    }

    fn poll_wake(&self) -> Wake {
        let at = |at| Wake { when: When::At(at), reason: WakeReason::Nothing };
        match &self.body {
            _ if !self.told.is_empty() => Wake { when: When::Now, reason: WakeReason::Event },
            Body::Asleep { since, .. } => at(after(*since, NAP)),
            Body::Awake(link) => {
                let wake = link.poll_wake();
                match wake.when {
                    When::Now => wake,
                    _ if link.state() == State::Down => wake,
                    When::Idle => at(self.awake_until),
                    When::At(own) if elapsed(own, self.awake_until).as_ticks() > 0 => at(self.awake_until),
                    When::At(_) => wake,
                }
            }
        }
    }

    fn state(&self) -> State {
        match &self.body {
            Body::Awake(link) => link.state(),
            Body::Asleep { .. } => State::Up,
        }
    }

    fn peer(&self) -> Option<Peer> {
        match &self.body {
            Body::Awake(link) => link.peer(),
            Body::Asleep { peer, .. } => Some(*peer),
        }
    }

    fn statistics(&self) -> &Statistics {
        match &self.body {
            Body::Awake(link) => link.statistics(),
            Body::Asleep { .. } => &self.none,
        }
    }

    fn max_transmit(&self) -> usize {
        TheLink::<F>::max_transmit()
    }
}
