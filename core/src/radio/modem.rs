//! A radio modem on a UART: a half-duplex stream that makes packets of what is written, and merges and splits them (W-65).

use crate::{
    io::{Line, Taken},
    rules::holds,
    star::{Access, May},
    time::{Duration, Instant, elapsed},
};

/// The times and sizes of a modem, from its data sheet or measured; alike on all boards of one radio.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Pace {
    /// Octets that go into one packet on the air, at least 1. A frame with both delimiters should not be longer: each packet more is one more to lose.
    pub packet: u16,
    /// The pause on the UART that ends a packet.
    pub gap: Duration,
    /// From the end of a packet until the other side can hear again.
    pub turnaround: Duration,
    /// What a packet costs on the air beside its octets: preamble, head.
    pub packet_time: Duration,
    /// What an octet costs on the air.
    pub octet_time: Duration,
    /// The delimiter of the framing: each packet begins with one, for the one before may have been lost with its own. [`Framing::DELIMITER`](crate::framing::Framing::DELIMITER).
    pub delimiter: u8,
}

impl Pace {
    /// How long so many octets are on the air, in as many packets as they need.
    #[must_use]
    pub fn airtime(&self, octets: usize) -> Duration {
        let octets = u32::try_from(octets).unwrap_or(u32::MAX);
        let packets = octets.div_ceil(u32::from(self.packet.max(1)));
        let heads = packets.saturating_mul(self.packet_time.as_ticks());
        Duration::from_ticks(heads.saturating_add(octets.saturating_mul(self.octet_time.as_ticks())))
    }
}

/// A line through a modem: one frame a packet, none while the modem sends or hears, each only when the rule `A` lets it:
/// [`TurnTaken`](crate::star::TurnTaken), [`Chance`](crate::star::Chance), or [`FullDuplex`](crate::star::FullDuplex) where nobody else is in range.
///
/// Use an ordered framing; received packets may be cut and glued as the modem likes, the delimiters tell the frames apart. A modem holds octets back and lets
/// them go later, so nothing that moves may go this way (W-44, W-65) but through a [`Gate`](crate::setpoint::Gate) that was opened.
///
/// State an octet rate to the link that counts packet heads, pauses and turnarounds, half the modem's or less, or its time-outs are too short.
///
/// Time passes with each [`take`](Line::take), so serve the port at least every few milliseconds.
///
/// # Example
/// ```
/// use bellwire::{
///     io::Memory,
///     link::{Config, OwnNumber},
///     port::Port,
///     radio::{Modem, Pace},
///     star::{FullDuplex, May},
///     time::{Duration, Instant},
/// };
///
/// // As a data sheet has it: packets of 58 octets, which a pause of 3 ms ends; on the air 10 ms a packet and 0.8 ms an octet.
/// let pace = Pace {
///     packet: 58,
///     gap: Duration::from_millis(3),
///     turnaround: Duration::from_millis(5),
///     packet_time: Duration::from_millis(10),
///     octet_time: Duration::from_ticks(800),
///     // That of COBS.
///     delimiter: 0,
/// };
/// let now = Instant::from_ticks(0);
/// // The UART at 9600 bits per second; with heads, pauses and turnarounds the air takes about 500 octets per second.
/// let config = Config { octet_rate: 500, ..Config::uart(9_600, OwnNumber::Stored(7)) };
/// // A mast and a desk, and nobody else in range: no rule but the modem's own pauses.
/// let mut mast = Port::uart(Modem::new(Memory::<256>::new(), FullDuplex, pace), config, now);
/// mast.open(now);
/// mast.service(now).unwrap();
/// // Its OPEN is one packet of 32 octets; then it keeps silent for 10 + 32 * 0.8 ms on the air and 8 ms more.
/// assert_eq!(mast.line_mut().may_send(), May::In(Duration::from_ticks(43_600)));
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Modem<L, A> {
    line: L,
    access: A,
    pace: Pace,
    /// The last time handed in.
    last: Option<Instant>,
    /// Silence that is still to keep, µs.
    silence: u32,
    frame: Frame,
    unsent: u32,
}

/// The frame that is handed over.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Frame {
    None,
    /// The rule was asked for so many octets.
    Wanted(usize),
    /// So many octets of it, of so many in all, are still to come.
    Under {
        left: usize,
        all: usize,
    },
}

impl<L, A: Access> Modem<L, A> {
    /// A modem on `line`.
    #[must_use]
    pub const fn new(line: L, access: A, pace: Pace) -> Self {
        Self { line, access, pace, last: None, silence: 0, frame: Frame::None, unsent: 0 }
    }

    /// The rule of who may talk.
    #[must_use]
    pub const fn access(&self) -> &A {
        &self.access
    }

    /// The rule of who may talk, to give it the turn.
    #[must_use]
    pub const fn access_mut(&mut self) -> &mut A {
        &mut self.access
    }

    /// The UART.
    #[must_use]
    pub const fn line_mut(&mut self) -> &mut L {
        &mut self.line
    }

    /// Frames that the rule will never let through, for instance longer than the whole airtime: they were dropped, as on the air.
    #[must_use]
    pub const fn never_sent(&self) -> u32 {
        self.unsent
    }

    /// Whether a frame may go now, or when to try again.
    #[must_use]
    pub fn may_send(&self) -> May {
        let silence = Duration::from_ticks(self.silence);
        match self.access.may_send() {
            May::Now | May::Look if self.silence > 0 && holds(65) => May::In(silence),
            May::In(span) => May::In(span.max(silence)),
            may => may,
        }
    }

    fn elapse(&mut self, now: Instant) {
        let span = self.last.map_or(Duration::from_ticks(0), |last| elapsed(now, last));
        self.last = Some(now);
        self.silence = self.silence.saturating_sub(span.as_ticks());
        self.access.elapse(span);
    }

    /// Keeps silence for at least so long from now on.
    fn keep_silent(&mut self, span: Duration) {
        let pause = self.pace.gap.as_ticks().saturating_add(self.pace.turnaround.as_ticks());
        self.silence = self.silence.max(span.as_ticks().saturating_add(pause));
    }

    /// Whether a new frame of so many octets may begin now; `None`: never.
    fn begins(&mut self, octets: usize) -> Option<bool> {
        if self.frame != Frame::Wanted(octets) {
            if !self.access.wanted(self.pace.airtime(octets)) {
                return None;
            }
            self.frame = Frame::Wanted(octets);
        }
        if self.may_send() == May::Look {
            // All that a UART shows of the air: that nothing comes.
            self.access.looked(true);
        }
        Some(self.may_send() == May::Now)
    }
}

impl<L: Line, A: Access> Line for Modem<L, A> {
    type Error = L::Error;

    fn take(&mut self, now: Instant, into: &mut [u8]) -> Result<Taken, L::Error> {
        self.elapse(now);
        let taken = self.line.take(now, into)?;
        if taken.octets > 0 {
            self.keep_silent(Duration::from_ticks(0));
        }
        Ok(taken)
    }

    /// `octets` are one whole frame, or what the last call has left of it.
    fn put(&mut self, octets: &[u8]) -> Result<usize, L::Error> {
        let (left, all) = match self.frame {
            Frame::Under { left, all } => (left, all),
            _ => match self.begins(octets.len()) {
                Some(true) => {
                    // A delimiter of our own in front; the frame's own one is then silence (W-2).
                    let lead = octets.first() != Some(&self.pace.delimiter);
                    if lead && self.line.put(&[self.pace.delimiter])? == 0 {
                        return Ok(0);
                    }
                    (octets.len(), octets.len().saturating_add(lead.into()))
                }
                Some(false) => return Ok(0),
                None => {
                    self.unsent = self.unsent.saturating_add(1);
                    self.frame = Frame::None;
                    return Ok(octets.len());
                }
            },
        };
        let put = self.line.put(octets.get(..left).unwrap_or(octets))?;
        let left = left.saturating_sub(put);
        self.frame = if left > 0 { Frame::Under { left, all } } else { Frame::None };
        if left == 0 {
            self.access.sent();
            self.keep_silent(self.pace.airtime(all));
        }
        Ok(put)
    }

    fn unsent(&self) -> Option<usize> {
        if self.silence > 0 { None } else { self.line.unsent() }
    }
}

#[cfg(test)]
mod tests;
