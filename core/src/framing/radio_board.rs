//! Datagrams by way of a radio board on a UART (W-63, W-64): a computer without a radio reaches the field.

use super::{
    Air, Fed, Framing, Lead, NoRoom, NotAir, NotSent, Step,
    air::{self, MAX_HEAD, SEND},
    candidate::{checked, no_frame, shift},
    cobs::{self, Cobs},
};
use crate::{
    fcs::{Fcs, Fcs16},
    frame::Reject,
    rules::holds,
};

/// One frame is one datagram, which a radio board sends and hears for us; between it and us lies a UART with COBS and the 16-bit FCS.
///
/// A [`Link`](crate::link::Link) over it talks with a board in the field as if the radio were its own. What the radio told of the last datagram is in the
/// [`State`]: see [`Link::framing_state`](crate::link::Link::framing_state). Give the link the octet rate of the slower of UART and air. What the board says
/// it did not send is lost, as on the air.
///
/// # Example
/// ```
/// use bellwire::{framing::RadioBoard, link::{Config, OwnNumber}, io::Memory, port::Port, time::{Duration, Instant}};
///
/// let now = Instant::from_ticks(0);
/// let config = Config::datagram(1_000, Duration::from_ticks(500_000), OwnNumber::Stored(7));
/// let mut mast: Port<_, RadioBoard> = Port::new(Memory::<256>::new(), RadioBoard, config, now);
/// mast.open(now);
/// assert_eq!(mast.service(now), Ok(None));
/// // It asks the mast to open: delimiter, COBS code, EXTENDED, AIR, form 1 (send), and the datagram.
/// let asked = [(); 6].map(|()| mast.line_mut().depart().unwrap());
/// assert_eq!(asked, [0x00, 0x08, 0xE0, 0x16, 0x01, 0x20]);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct RadioBoard;

/// State of the decoder, and what the board has told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct State {
    cobs: cobs::State,
    /// The last datagram that was heard, damaged or not.
    pub heard: Option<Heard>,
    /// Datagrams that went out, wrapping.
    pub sent: u16,
    /// Datagrams that did not, wrapping.
    pub not_sent: u16,
    /// Why the last of these did not.
    pub why: Option<NotSent>,
}

/// What a radio board told of a datagram beside its octets.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Heard {
    /// When, µs of the board's clock, wrapping.
    pub at: u32,
    /// How strong, dBm, if the radio tells.
    pub strength: Option<i16>,
}

/// The octets that this layer puts around a frame, without COBS: eight before it, two after it.
const AROUND: usize = MAX_HEAD + Fcs16::LEN;

impl State {
    /// What the board said; `None` if there is no datagram of the air in it.
    fn take<C: Fcs>(&mut self, frame: core::ops::Range<usize>, buffer: &mut [u8]) -> Option<Step> {
        let reject = match Air::read(buffer.get(frame.clone())?) {
            Ok(Air::Heard { at, strength, datagram }) => {
                self.heard = Some(Heard { at, strength });
                let len = datagram.len();
                let verdict = checked::<C>(len, C::update(C::INIT, datagram));
                let start = frame.end.saturating_sub(len);
                return Some(match verdict {
                    Ok(len) => Step::Frame { start, len },
                    Err(reject) => {
                        shift(buffer, start..frame.end, 0);
                        no_frame(reject, buffer.get(..len)?)
                    }
                });
            }
            Ok(Air::Sent { .. }) => {
                self.sent = self.sent.wrapping_add(1);
                return None;
            }
            Ok(Air::NotSent { why, .. }) => {
                (self.not_sent, self.why) = (self.not_sent.wrapping_add(1), Some(why));
                return None;
            }
            // Our own, come back.
            Ok(Air::Send { .. }) if holds(64) => return None,
            Ok(Air::Send { .. }) => Reject::BadLength,
            Err(NotAir::BadLength) => Reject::BadLength,
            Err(NotAir::OtherFrame | NotAir::UnknownForm | NotAir::UnknownReason) => Reject::UnknownExtension,
        };
        let len = frame.len();
        shift(buffer, frame, 0);
        Some(Step::Refused { reject, len })
    }
}

impl Framing for RadioBoard {
    type Order = super::order::Unordered;
    const DELIMITER: Option<u8> = Cobs::DELIMITER;
    /// `AROUND`, and two for the COBS codes of a long one.
    const EXTRA: usize = AROUND + 2;
    type State = State;
    const START: State =
        State { cobs: <Cobs as Framing>::START, heard: None, sent: 0, not_sent: 0, why: None };

    fn max_encoded_len(frame: usize) -> usize {
        Cobs::max_encoded_len(frame.saturating_add(SEND.len()).saturating_add(Fcs16::LEN))
    }

    /// At most four parts.
    fn encode(&self, parts: &[&[u8]], lead: Lead, out: &mut [u8]) -> Result<usize, NoRoom> {
        air::enclose(&SEND, parts, lead, out)
    }

    fn feed<C: Fcs>(&self, state: &mut State, input: &[u8], buffer: &mut [u8]) -> Fed {
        let mut done = 0_usize;
        loop {
            let rest = input.get(done..).unwrap_or(&[]);
            let Fed { consumed, step } = Cobs.feed::<Fcs16>(&mut state.cobs, rest, buffer);
            done = done.saturating_add(consumed);
            let step = match step {
                Step::Frame { start, len } => {
                    match state.take::<C>(start..start.saturating_add(len), buffer) {
                        Some(step) => step,
                        None if consumed > 0 && done < input.len() => continue,
                        None => Step::More,
                    }
                }
                other => other,
            };
            return Fed { consumed: done, step };
        }
    }

    fn held(&self, state: &State) -> usize {
        Cobs.held(&state.cobs)
    }

    fn pending_text(&self, state: &State, buffer: &[u8]) -> usize {
        Cobs.pending_text(&state.cobs, buffer)
    }
}

#[cfg(test)]
mod tests;
