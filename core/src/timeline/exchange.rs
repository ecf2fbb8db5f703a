//! Asking for the time and answering (W-51).

use super::{Clocks, Stamps};
use crate::{
    rules::holds,
    time::{Duration, Instant, after, elapsed},
};

/// Octets of the body of a TIME REQUEST.
pub const REQUEST_LEN: usize = 4;

/// Octets of the body of a TIME.
pub const TIME_LEN: usize = 12;

/// An answer counts for so long after its request: 60 s.
pub const LONGEST_EXCHANGE: Duration = Duration::from_ticks(60_000_000);

/// Why an answer was not taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Refused {
    /// It is not [`TIME_LEN`] octets long.
    BadLength,
    /// No request waits for it: another one's, an earlier try's, or a double.
    NotAsked,
    /// It came more than [`LONGEST_EXCHANGE`] after its request.
    TooLate,
    /// No two such clocks give these stamps: heard after it was answered, or away for a shorter time than the answerer kept it.
    Impossible,
}

impl Refused {
    /// The reason in plain words.
    #[must_use]
    pub const fn reason(self) -> &'static str {
        match self {
            Self::BadLength => "a time answer of another length",
            Self::NotAsked => "a time answer that no request waits for",
            Self::TooLate => "a time answer more than 60 s after its request",
            Self::Impossible => "a time answer that no clocks of this kind can give",
        }
    }
}

impl core::fmt::Display for Refused {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(self.reason())
    }
}

impl core::error::Error for Refused {}

/// The asking side: at most one request waits for its answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Asker {
    waiting: Option<Instant>,
}

impl Asker {
    /// Nothing asked yet.
    #[must_use]
    pub const fn new() -> Self {
        Self { waiting: None }
    }

    /// The body of a request whose first octet leaves at `now`. Call it again for every sending, the repeats too: an earlier one then waits no
    /// longer, so that an answer is never held against the wrong stamp.
    pub const fn request(&mut self, now: Instant) -> [u8; REQUEST_LEN] {
        self.waiting = Some(now);
        now.as_ticks().to_le_bytes()
    }

    /// Takes the body of a TIME whose first octet was heard at `arrived`.
    ///
    /// # Errors
    /// The request goes on waiting, but after [`Refused::TooLate`] and [`Refused::Impossible`].
    pub fn handle(&mut self, body: &[u8], arrived: Instant, clocks: &Clocks) -> Result<Stamps, Refused> {
        let (&[sent, heard, answered], []) = body.as_chunks::<4>() else {
            return Err(Refused::BadLength);
        };
        let read = |octets| Instant::from_ticks(u32::from_le_bytes(octets));
        let stamps = Stamps { sent: read(sent), heard: read(heard), answered: read(answered), arrived };
        if self.waiting != Some(stamps.sent) && holds(51) {
            return Err(Refused::NotAsked);
        }
        self.waiting = None;
        if !(0..=i64::from(LONGEST_EXCHANGE.as_ticks())).contains(&stamps.away()) {
            return Err(Refused::TooLate);
        }
        let kept = elapsed(stamps.answered, stamps.heard);
        if after(stamps.heard, kept) != stamps.answered || stamps.error(clocks).is_none() {
            return Err(Refused::Impossible);
        }
        Ok(stamps)
    }
}

/// The body of the answer to a request: its first octet was heard at `heard`, and that of the answer leaves at `now`. `None` if the request
/// is not [`REQUEST_LEN`] octets long.
#[must_use]
pub fn answer(request: &[u8], heard: Instant, now: Instant) -> Option<[u8; TIME_LEN]> {
    let sent: [u8; REQUEST_LEN] = request.try_into().ok()?;
    let mut body = [0; TIME_LEN];
    let (chunks, _) = body.as_chunks_mut();
    for (chunk, octets) in
        chunks.iter_mut().zip([sent, heard.as_ticks().to_le_bytes(), now.as_ticks().to_le_bytes()])
    {
        *chunk = octets;
    }
    Some(body)
}
