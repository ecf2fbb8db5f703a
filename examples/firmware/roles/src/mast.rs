//! The weather mast: measures, reports by radio, sleeps.

use bellwire::{
    framing,
    io::{Datagram, Whole},
    link::{Config, Event, Outcome, OwnNumber, Ticket},
    port::Port,
    time::{Duration, Instant, after, elapsed},
};
use bellwire_examples::messages::Message;

use crate::agreement::{FINGERPRINT, identity};

/// How long it sleeps between two reports.
const SLEEP: Duration = Duration::from_millis(5_000);
/// How long it stays awake for an outcome.
const AWAKE: Duration = Duration::from_millis(3_000);

/// A radio that sends 1000 octets a second, and no copy of a datagram lives longer than 200 ms. No keep-alive: the mast is silent while it
/// sleeps, and says so when it opens.
pub(crate) const fn radio(identity: u64, own: OwnNumber) -> Config {
    let usual = Config::datagram(1_000, Duration::from_millis(200), own);
    Config { identity, fingerprint: FINGERPRINT, keep_alive: Duration::from_millis(0), ..usual }
}

/// What the mast does until its next turn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Nap {
    /// It listens: the next turn is due at the next interrupt.
    Awake,
    /// It sleeps, radio off, until then.
    Until(Instant),
}

/// The mast, point to point with the desk. It wakes, reports, waits for the outcome for at most three seconds, and sleeps for five.
///
/// Several sleeping boards around one hub need turns or chances (`bellwire::star`), which this role does without.
#[derive(Debug)]
pub struct Mast<D: Datagram> {
    port: Port<Whole<D>, framing::Datagram>,
    report: Report,
    /// When it woke.
    woke: Instant,
    /// What became of the last report.
    outcome: Option<Outcome>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Report {
    Due,
    UnderWay(Ticket),
    Done,
}

impl<D: Datagram> Mast<D> {
    /// The mast at its start.
    pub fn new(radio_chip: D, own: OwnNumber, now: Instant) -> Self {
        let mut port = Port::datagram(radio_chip, radio(identity::MAST, own), now);
        port.open(now);
        Self { port, report: Report::Due, woke: now, outcome: None }
    }

    /// One turn while awake; `weather` is what it measures.
    ///
    /// # Errors
    /// The radio's.
    pub fn turn(&mut self, now: Instant, weather: Message) -> Result<Nap, D::Error> {
        loop {
            let ended = match self.port.service(now)? {
                None => break,
                Some(Event::Outcome { ticket, outcome }) => {
                    (self.report == Report::UnderWay(ticket)).then_some(outcome)
                }
                Some(_) => None,
            };
            if let Some(outcome) = ended {
                self.report = Report::Done;
                self.outcome = Some(outcome);
            }
        }
        if self.report == Report::Due
            && let Ok(ticket) = self.port.report(now, &weather)
        {
            self.report = Report::UnderWay(ticket);
            // It leaves in this turn.
            while self.port.service(now)?.is_some() {}
        }
        if self.report != Report::Done && elapsed(now, self.woke) < AWAKE {
            return Ok(Nap::Awake);
        }
        self.woke = after(now, SLEEP);
        self.report = Report::Due;
        Ok(Nap::Until(self.woke))
    }

    /// What became of the last report whose outcome is known.
    #[must_use]
    pub const fn outcome(&self) -> Option<Outcome> {
        self.outcome
    }
}
