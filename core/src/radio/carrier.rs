//! The radio board's side: datagrams between a radio chip and the UART to a computer (W-63, W-64).

use crate::{
    fcs::Fcs16,
    framing::{Air, Cobs, Framing, NotSent, Step, air},
    io::{Datagram, Line, Medium, Received},
    rules::holds,
    time::Instant,
};

/// What a [`Carrier`] has carried since its start. Counters stay at their largest value.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Carried {
    /// Datagrams heard and handed to the computer.
    pub heard: u32,
    /// Datagrams handed to the radio.
    pub sent: u32,
    /// Datagrams that the radio did not take; the computer was told why.
    pub not_sent: u32,
    /// Datagrams heard that are shorter than any frame, and candidates on the UART that are no datagram to send.
    pub refused: u32,
}

/// Steps of one call of [`Carrier::turn`]: a flood on either side does not hold the caller.
const STEPS: usize = 32;

/// Carries datagrams between `line`, a UART to a computer, and `chip`. It keeps nothing: a datagram that the radio does not take at once is answered with
/// [`Air::NotSent`], and while one goes to the computer, the next ones wait in the chip or are lost, as on the air.
///
/// `N`: the longest datagram, and 18 octets more.
///
/// # Example
/// ```
/// use bellwire::{framing::{Air, RadioBoard}, io::{Datagram, Medium, Memory, Received}, radio::Carrier, time::Instant};
///
/// /// What a driver of a radio chip gives: here one datagram of the mast, heard at -93 dBm, and then nothing.
/// struct Chip(Option<[u8; 6]>);
///
/// impl Datagram for Chip {
///     type Error = bellwire::io::Full;
///
///     fn send(&mut self, _datagram: &[u8]) -> Result<Medium, Self::Error> {
///         Ok(Medium::Busy)
///     }
///     fn receive(&mut self, now: Instant, into: &mut [u8]) -> Result<Option<Received>, Self::Error> {
///         Ok(self.0.take().map(|datagram| {
///             into[..6].copy_from_slice(&datagram);
///             Received { octets: 6, arrived: now, strength: Some(-93) }
///         }))
///     }
///     fn medium(&self) -> Medium {
///         Medium::Free
///     }
/// }
///
/// let chip = Chip(Some([0xA1, 0x34, 0x12, 0x00, 0x5C, 0x0E]));
/// let mut board = Carrier::<_, _, 64>::new(Memory::<128>::new(), chip);
/// board.turn(Instant::from_ticks(1_000_000)).unwrap();
/// assert_eq!(board.carried().heard, 1);
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Carrier<L, D, const N: usize> {
    line: L,
    chip: D,
    state: <Cobs as Framing>::State,
    buffer: [u8; N],
    incoming: ([u8; 16], usize, usize),
    outgoing: ([u8; N], usize, usize),
    carried: Carried,
}

impl<L: Line, D: Datagram, const N: usize> Carrier<L, D, N> {
    /// The longest datagram.
    pub const LONGEST: usize = N.saturating_sub(18);

    /// A carrier that has carried nothing.
    #[must_use]
    pub const fn new(line: L, chip: D) -> Self {
        const { assert!(N >= 32 && N <= 1040, "N must be 32..=1040 octets") };
        Self {
            line,
            chip,
            state: <Cobs as Framing>::START,
            buffer: [0; N],
            incoming: ([0; 16], 0, 0),
            outgoing: ([0; N], 0, 0),
            carried: Carried { heard: 0, sent: 0, not_sent: 0, refused: 0 },
        }
    }

    /// What was carried so far.
    #[must_use]
    pub const fn carried(&self) -> Carried {
        self.carried
    }

    /// The radio chip, to set it up.
    #[must_use]
    pub const fn chip_mut(&mut self) -> &mut D {
        &mut self.chip
    }

    /// The UART.
    #[must_use]
    pub const fn line_mut(&mut self) -> &mut L {
        &mut self.line
    }

    /// Carries what is there, both ways, without waiting. Call it often: what a radio holds meanwhile grows old.
    ///
    /// # Errors
    /// The UART's. A radio that does not answer is told to the computer as [`NotSent::Broken`].
    pub fn turn(&mut self, now: Instant) -> Result<Carried, L::Error> {
        for _ in 0..STEPS {
            if !self.flush()? || !(self.hear(now) | self.read(now)?) {
                break;
            }
        }
        self.flush()?;
        Ok(self.carried)
    }

    /// Puts out what waits; gives whether all of it went.
    fn flush(&mut self) -> Result<bool, L::Error> {
        let (octets, next, end) = &mut self.outgoing;
        if let Some(rest) = octets.get(*next..*end).filter(|rest| !rest.is_empty()) {
            *next = next.saturating_add(self.line.put(rest)?);
        }
        Ok(*next >= *end)
    }

    /// Takes a datagram from the chip; gives whether one was there.
    fn hear(&mut self, now: Instant) -> bool {
        let mut octets = [0; N];
        let room = octets.get_mut(..Self::LONGEST).unwrap_or_default();
        let Ok(Some(Received { octets: len, arrived, strength })) = self.chip.receive(now, room) else {
            return false;
        };
        let datagram = octets.get(..len).unwrap_or_default();
        if len < air::SHORTEST && holds(64) {
            count(&mut self.carried.refused);
        } else {
            count(&mut self.carried.heard);
            self.say(Air::Heard { at: arrived.as_ticks(), strength, datagram });
        }
        true
    }

    /// Takes octets from the computer until they complete something, or something waits to go out; gives whether there were any.
    fn read(&mut self, now: Instant) -> Result<bool, L::Error> {
        // What was heard goes first; the computer's octets wait meanwhile in the UART's ring.
        if self.outgoing.1 < self.outgoing.2 {
            return Ok(true);
        }
        let (octets, next, end) = &mut self.incoming;
        if *next >= *end {
            (*next, *end) = (0, self.line.take(now, octets)?.octets.min(octets.len()));
        }
        let waiting = octets.get(*next..*end).unwrap_or_default();
        if waiting.is_empty() {
            return Ok(false);
        }
        let fed = Cobs.feed::<Fcs16>(&mut self.state, waiting, &mut self.buffer);
        *next = next.saturating_add(fed.consumed);
        match fed.step {
            Step::Frame { start, len } => self.send(now, start, len),
            Step::Refused { .. } => count(&mut self.carried.refused),
            Step::More | Step::Text { .. } => {}
        }
        Ok(true)
    }

    /// Hands a datagram to the chip, and tells what became of it.
    fn send(&mut self, now: Instant, start: usize, len: usize) {
        let frame = self.buffer.get(start..).and_then(|rest| rest.get(..len)).unwrap_or_default();
        let Ok(Air::Send { datagram }) = Air::read(frame) else {
            return count(&mut self.carried.refused);
        };
        let tail = air::tail_of(datagram);
        let why = if datagram.len() > Self::LONGEST {
            Some(NotSent::TooLong)
        } else {
            match self.chip.send(datagram) {
                Ok(Medium::Free) => None,
                Ok(Medium::Busy) => Some(NotSent::Busy),
                Err(_) => Some(NotSent::Broken),
            }
        };
        if let Some(why) = why {
            count(&mut self.carried.not_sent);
            self.say(Air::NotSent { why, tail });
        } else {
            count(&mut self.carried.sent);
            self.say(Air::Sent { at: now.as_ticks(), tail });
        }
    }

    /// Encodes a frame to the computer; nothing else waits.
    fn say(&mut self, air: Air<'_>) {
        let (octets, next, end) = &mut self.outgoing;
        (*next, *end) = (0, air.encode(octets).unwrap_or(0));
    }
}

const fn count(counter: &mut u32) {
    *counter = counter.saturating_add(1);
}

#[cfg(test)]
mod tests;
