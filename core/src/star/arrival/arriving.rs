//! A leaf's side: one report, sent until the hub answers.

use heapless::Vec;

use super::{ARRIVAL_HEAD, Arrival, ArrivalAnswer, Welcomed};
use crate::{
    fcs::Fcs,
    frame::{MessageNumber, ResetCause},
    framing::{Framing, Lead},
    link::OwnNumber,
    retry::{Dice, Next, Policy, Retry},
    star::{Addressed, extended},
    time::Duration,
};

/// What a hub may remember longer than it must, and the longest answer time of W-36, µs.
const LONGER: u32 = 2_250_000;

/// What the user states about a leaf that keeps nothing over its sleep.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ArrivingConfig {
    /// Its address, set by hand, 1..=250.
    pub address: u8,
    /// Its own number: 32 random bits, or none.
    pub own: OwnNumber,
    /// Why it started.
    pub cause: ResetCause,
    /// Fingerprint of the agreement; 0: none, matches any.
    pub fingerprint: u32,
    /// How long it waits for the answer before it sends again: the way there and back, and the time on the air.
    pub time_out: Duration,
    /// Sendings in all, at least 1.
    pub tries: u8,
    /// From the first to the last sending, at most, as the hub states it too: what is not answered by then is not sent again, whatever tries are left.
    pub span: Duration,
    /// The lifetime of a frame (L): a numberless leaf keeps quiet first, for the span, two lifetimes and 2.25 s.
    pub lifetime: Duration,
    /// Seed of the random part of time-outs, 0 to 25 %; 0: none.
    pub jitter_seed: u32,
}

/// Why a report cannot be sent.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum NotArriving {
    /// No leaf can have that address.
    BadAddress,
    /// The payload is longer than this.
    TooLong {
        /// Octets that there is room for, message number included.
        limit: u16,
    },
    /// The payload does not begin with a message number in its shortest form (W-18).
    BadMessageNumber,
}

impl core::fmt::Display for NotArriving {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::BadAddress => f.write_str("not sent: an address of a leaf is 1 to 250"),
            Self::TooLong { limit } => {
                write!(f, "not sent: longer than the {limit} octets that there is room for")
            }
            Self::BadMessageNumber => f.write_str("not sent: the payload must begin with a message number"),
        }
    }
}

impl core::error::Error for NotArriving {}

/// What became of the report.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ArrivingOutcome {
    /// The hub's program has it.
    Delivered {
        /// More waits for the leaf at the hub: open a session for it, or sleep on.
        more: bool,
    },
    /// The agreements differ; the program of the hub does not have it.
    Mismatch,
    /// No answer came: it may have arrived.
    Unknown,
}

/// One report of a leaf that keeps nothing over its sleep. `OCTETS`: of the longest payload, and [`ARRIVAL_HEAD`] more.
///
/// # Grammar
/// [`poll_transmit`](Self::poll_transmit) gives the frame when it is to be sent, [`hear`](Self::hear) takes what comes, [`elapse`](Self::elapse) time,
/// [`poll_wait`](Self::poll_wait) says how long nothing is due; [`outcome`](Self::outcome) ends it.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Arriving<const OCTETS: usize> {
    body: Vec<u8, OCTETS>,
    address: u8,
    mine: u32,
    tries: u8,
    /// µs of silence before the first sending.
    hush: u32,
    /// µs left for sending, from the first one on.
    span: u32,
    sent: bool,
    retry: Retry,
    dice: Dice,
    outcome: Option<ArrivingOutcome>,
}

impl<const OCTETS: usize> Arriving<OCTETS> {
    /// A report to send; `payload` begins with the message number (W-18).
    ///
    /// # Errors
    /// Why it cannot be sent.
    pub fn new(config: &ArrivingConfig, payload: &[u8]) -> Result<Self, NotArriving> {
        const { assert!(OCTETS > ARRIVAL_HEAD && OCTETS <= 1033, "OCTETS must be 10..=1033") };
        if !(1..=250).contains(&config.address) {
            return Err(NotArriving::BadAddress);
        }
        MessageNumber::of(payload).ok_or(NotArriving::BadMessageNumber)?;
        let (mine, numberless) = match config.own {
            OwnNumber::Stored(number) | OwnNumber::Random(number) => (number, false),
            OwnNumber::Numberless => (0, true),
        };
        let (cause, fingerprint) = (config.cause, config.fingerprint);
        let arrival = Arrival { mine, numberless, cause, fingerprint, payload };
        let limit = u16::try_from(OCTETS.saturating_sub(ARRIVAL_HEAD)).unwrap_or(u16::MAX);
        let mut body = Vec::new();
        body.extend_from_slice(&arrival.head()).map_err(|_| NotArriving::TooLong { limit })?;
        body.extend_from_slice(payload).map_err(|_| NotArriving::TooLong { limit })?;
        let quiet = config.lifetime.as_ticks().saturating_mul(2).saturating_add(config.span.as_ticks());
        Ok(Self {
            body,
            address: config.address,
            mine,
            tries: config.tries.max(1),
            hush: if numberless { quiet.saturating_add(LONGER) } else { 0 },
            span: config.span.as_ticks(),
            sent: false,
            retry: Retry::new(config.time_out),
            dice: Dice::new(config.jitter_seed),
            outcome: None,
        })
    }

    /// What became of it; `None`: not known yet.
    #[must_use]
    pub const fn outcome(&self) -> Option<ArrivingOutcome> {
        self.outcome
    }

    /// How long nothing is due: zero if the frame is to be polled, `None` once the outcome is known.
    #[must_use]
    pub fn poll_wait(&self) -> Option<Duration> {
        let left = self.retry.left().as_ticks().max(self.hush);
        self.outcome.is_none().then(|| Duration::from_ticks(left))
    }

    /// Writes the frame into `out` if it is to be sent now, in the framing of the medium (not [`Addressed`]: the addresses are put in here); gives its length. It takes `leaving` until
    /// its last octet has left. `lead` as for [`write()`](crate::frame::write). A frame that does not fit is given as no octets, as if it were lost.
    pub fn poll_transmit<F: Framing, C: Fcs>(
        &mut self,
        framing: &F,
        lead: Lead,
        leaving: Duration,
        out: &mut [u8],
    ) -> Option<usize> {
        self.poll_wait().filter(|wait| wait.as_ticks() == 0)?;
        let framing = Addressed { framing: framing.clone(), own: self.address, peer: 0 };
        let len = extended::write::<_, C>(&framing, Arrival::CODE, &self.body, lead, out);
        self.retry.sent(leaving);
        self.sent = true;
        Some(len)
    }

    /// Takes a frame without its FCS, addresses included; gives whether it was the answer. What is for others, and what does not answer this report, changes nothing.
    pub fn hear(&mut self, frame: &[u8]) -> bool {
        let [control, to, 0, Arrival::CODE, ref body @ ..] = *frame else { return false };
        let answer = ArrivalAnswer::parse(body).filter(|answer| answer.mine == self.mine);
        let is_ours = control == extended::EXTENDED | 0x10 && to == self.address && self.outcome.is_none();
        let Some(answer) = answer.filter(|_| is_ours && self.hush == 0) else { return false };
        self.outcome = Some(match answer.welcomed {
            Welcomed::Taken { more } => ArrivingOutcome::Delivered { more },
            Welcomed::Mismatch => ArrivingOutcome::Mismatch,
        });
        true
    }

    /// Time passes.
    pub fn elapse(&mut self, span: Duration) {
        self.hush = self.hush.saturating_sub(span.as_ticks());
        if !self.sent || self.outcome.is_some() {
            return;
        }
        self.span = self.span.saturating_sub(span.as_ticks());
        let waits = self.retry.left().as_ticks() > 0;
        self.retry.elapse(span);
        if self.retry.left().as_ticks() > 0 {
            return;
        }
        let policy = Policy { tries: Some(self.tries), ceiling: 10_000_000, spread: 64 };
        let is_last = waits && self.retry.expire(&policy, &mut self.dice) == Next::GiveUp;
        if is_last || self.span == 0 {
            self.outcome = Some(ArrivingOutcome::Unknown);
        }
    }
}
