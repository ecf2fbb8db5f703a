//! The weather mast: measures, reports by radio, sleeps.

use bellwire::{
    framing,
    io::{Datagram, Whole},
    link::{Config, Event, Link, Outcome, OwnNumber, Ticket},
    port::Port,
    star::{ASLEEP_LEN, Asleep},
    time::{Duration, Instant, after, elapsed},
};
use bellwire_examples::messages::Message;

use crate::{
    agreement::{FINGERPRINT, identity},
    log::log,
    radio::LONGEST,
};

/// How long it sleeps between two reports: a mast in the field minutes, this one so short that a night can be watched.
const SLEEP: Duration = Duration::from_millis(2_500);
/// How long it stays awake for an outcome.
const AWAKE: Duration = Duration::from_millis(3_000);

/// A radio that sends 1000 octets a second, and no copy of a datagram lives longer than 200 ms. No keep-alive, on neither side: both state that they may be silent for as
/// long as they like (W-61), so the session outlives the sleep.
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

/// The mast, point to point with the desk. It wakes, reports, waits for the outcome for at most three seconds, and sleeps.
///
/// Over a sleep it keeps 16 octets of its session ([`Asleep`]), of which it makes its link anew when it wakes: on a board whose memory loses its power they lie in a backup register, or in storage that
/// is blanked before the first frame goes out. A mast that loses them is a board that restarts, and opens a new session.
///
/// Several sleeping boards around one hub need turns or chances (`bellwire::star`), which this role does without.
#[derive(Debug)]
pub struct Mast<D: Datagram> {
    port: Port<Whole<D>, framing::Datagram>,
    own: OwnNumber,
    report: Report,
    /// What it keeps while it sleeps; blank while it is awake, and where nothing could be kept.
    kept: [u8; ASLEEP_LEN],
    /// When it fell asleep, while it sleeps.
    fell_asleep: Option<Instant>,
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
        let kept = [0; ASLEEP_LEN];
        Self { port, own, report: Report::Due, kept, fell_asleep: None, woke: now, outcome: None }
    }

    /// One turn while awake; `weather` is what it measures.
    ///
    /// # Errors
    /// The radio's.
    pub fn turn(&mut self, now: Instant, weather: Message) -> Result<Nap, D::Error> {
        self.wake(now);
        self.drain(now)?;
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
        self.fall_asleep(now)?;
        self.woke = after(now, SLEEP);
        self.report = Report::Due;
        Ok(Nap::Until(self.woke))
    }

    /// Takes what the link has to tell.
    fn drain(&mut self, now: Instant) -> Result<(), D::Error> {
        while let Some(event) = self.port.service(now)? {
            log!("{}", event);
            if let Event::Outcome { ticket, outcome } = event
                && self.report == Report::UnderWay(ticket)
            {
                self.report = Report::Done;
                self.outcome = Some(outcome);
            }
        }
        Ok(())
    }

    /// Keeps the session, if there is one to keep.
    fn fall_asleep(&mut self, now: Instant) -> Result<(), D::Error> {
        let asleep = self.port.link_mut().fall_asleep(now);
        self.kept = asleep.ok().and_then(|asleep| asleep.octets()).unwrap_or_default();
        self.fell_asleep = Some(now);
        // A report without an outcome has one now.
        self.drain(now)
    }

    /// Goes on in the session of before the sleep; without one the link opens.
    fn wake(&mut self, now: Instant) {
        let Some(fell_asleep) = self.fell_asleep.take() else { return };
        let slept = elapsed(now, fell_asleep);
        let link = Asleep::take(&mut self.kept).and_then(|asleep| {
            Link::resume(framing::Datagram, radio(identity::MAST, self.own), &asleep, slept, now).ok()
        });
        match link {
            Some(link) => *self.port.link_mut() = link,
            None => self.port.open(now),
        }
    }

    /// While it sleeps its radio is off: what comes is lost.
    ///
    /// # Errors
    /// The radio's.
    pub fn sleep(&mut self, now: Instant) -> Result<(), D::Error> {
        let mut unheard = [0; LONGEST];
        while self.port.line_mut().radio_mut().receive(now, &mut unheard)?.is_some() {}
        Ok(())
    }

    /// What became of the last report whose outcome is known.
    #[must_use]
    pub const fn outcome(&self) -> Option<Outcome> {
        self.outcome
    }
}
