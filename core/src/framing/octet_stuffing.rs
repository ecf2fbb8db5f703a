//! Octet stuffing of RFC 1662 section 4 with a selectable control-character map (W-5).
//!
//! While a candidate consists of text octets alone it may still turn out to be foreign text (W-9), which must come out exactly as
//! it came. Text octets have no top bit, so until the first other octet the decoder marks each octet that came escaped by its top
//! bit: a frame never takes more room than its octets, and a text can still be restored.

use super::{
    Fed, Framing, Lead, NoRoom, Step,
    candidate::{Cursor, Phase, checked},
    text::is_text_octet,
    word,
};
use crate::{fcs::Fcs, frame::Reject, rules::holds};

pub use super::control_map::ControlMap;

/// The octet between frames: the Flag Sequence of RFC 1662 section 4.1.
pub const DELIMITER: u8 = 0x7E;

/// The escape octet: the Control Escape of RFC 1662 section 4.2.
pub const ESCAPE: u8 = 0x7D;

/// What an escaped octet is xored with.
const FLIP: u8 = 0x20;

/// Mark of an octet that came escaped, while the candidate may be text.
const MARK: u8 = 0x80;

/// Octet stuffing with the delimiter 0x7E; both ends of a link need the same map.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct OctetStuffing {
    map: ControlMap,
}

/// State of the decoder.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct State {
    len: usize,
    phase: Phase,
    /// The escape octet came last.
    escape: bool,
    /// An octet that is no text came: the buffer holds plain octets, without marks.
    plain: bool,
    /// Where the text that is being handed out begins.
    drain: Option<usize>,
    /// Second half of an escaped pair whose first half was handed out alone.
    half: Option<u8>,
}

/// The most octets that `n` octets take when encoded, without delimiters: 2 n.
#[must_use]
pub const fn max_encoded_len(n: usize) -> usize {
    n.saturating_mul(2)
}

/// Encodes octets given in parts, without delimiters; gives the octets written.
///
/// # Errors
/// [`NoRoom`] if `out` is too short; [`max_encoded_len`] is always enough.
pub fn encode(map: ControlMap, parts: &[&[u8]], out: &mut [u8]) -> Result<usize, NoRoom> {
    let mut out = Cursor::new(out);
    for part in parts {
        let mut rest = *part;
        loop {
            if cfg!(feature = "fcs-host") {
                rest = out.extend_until(rest, special(map));
            }
            let Some((&octet, after)) = rest.split_first() else { break };
            rest = after;
            if octet == DELIMITER || octet == ESCAPE || (map.names(octet) && holds(5)) {
                out.put(ESCAPE)?;
                out.put(octet ^ FLIP)?;
            } else {
                out.put(octet)?;
            }
        }
    }
    Ok(out.written())
}

/// For [`word::copy_until`]: delimiters, escape octets and, if the map names any, control characters.
#[inline(always)]
fn special(map: ControlMap) -> impl Fn(u64) -> u64 {
    let bound = if map == ControlMap::NONE { 0 } else { FLIP };
    move |octets| {
        word::any_equal(octets, DELIMITER) | word::any_equal(octets, ESCAPE) | word::any_below(octets, bound)
    }
}

/// Decodes one candidate (no delimiters) into `out`; gives the octets written. Octets that `map` names are dropped.
///
/// # Errors
/// [`Reject::Aborted`] if it ends with the escape octet, [`Reject::TooLong`] if `out` is too short.
pub fn decode(map: ControlMap, candidate: &[u8], out: &mut [u8]) -> Result<usize, Reject> {
    let mut out = Cursor::new(out);
    let mut escape = false;
    for &octet in candidate {
        if escape {
            out.put(octet ^ FLIP).map_err(|_| Reject::TooLong)?;
            escape = false;
        } else if octet == ESCAPE {
            escape = true;
        } else if !map.names(octet) {
            out.put(octet).map_err(|_| Reject::TooLong)?;
        }
    }
    if escape { Err(Reject::Aborted) } else { Ok(out.written()) }
}

/// Decodes one candidate (no delimiters) where it lies; gives the octets it decodes to, at the start of `candidate`.
///
/// # Errors
/// [`Reject::Aborted`] if it ends with the escape octet. What is in `candidate` is then undefined.
pub fn decode_in_place(map: ControlMap, candidate: &mut [u8]) -> Result<usize, Reject> {
    let mut len = 0_usize;
    let mut escape = false;
    for at in 0..candidate.len() {
        let Some(&octet) = candidate.get(at) else { break };
        if octet == ESCAPE && !escape {
            escape = true;
        } else if escape || !map.names(octet) {
            if let Some(cell) = candidate.get_mut(len) {
                *cell = if escape { octet ^ FLIP } else { octet };
            }
            len = len.wrapping_add(1);
            escape = false;
        }
    }
    if escape { Err(Reject::Aborted) } else { Ok(len) }
}

/// What a cell of a candidate that may be text means in a frame; `None` if the map drops it.
const fn cell_octet(map: ControlMap, cell: u8) -> Option<u8> {
    if cell & MARK != 0 {
        Some(cell & !MARK)
    } else if map.names(cell) {
        None
    } else {
        Some(cell)
    }
}

impl State {
    /// Turns the cells of a candidate that may be text into plain octets.
    fn flatten(&mut self, map: ControlMap, buffer: &mut [u8]) {
        if self.plain {
            return;
        }
        let mut len = 0_usize;
        for at in 0..self.len {
            let Some(octet) = buffer.get(at).and_then(|&cell| cell_octet(map, cell)) else { continue };
            if let Some(cell) = buffer.get_mut(len) {
                *cell = octet;
            }
            len = len.wrapping_add(1);
        }
        self.len = len;
        self.plain = true;
    }

    /// Length without FCS of the frame that the collected candidate makes.
    fn judge<C: Fcs>(&self, map: ControlMap, buffer: &[u8]) -> Result<usize, Reject> {
        let cells = buffer.get(..self.len).unwrap_or(&[]);
        if self.escape && holds(5) {
            return Err(Reject::Aborted);
        }
        if self.plain {
            return checked::<C>(cells.len(), C::update(C::INIT, cells));
        }
        let (mut len, mut register) = (0_usize, C::INIT);
        for octet in cells.iter().filter_map(|&cell| cell_octet(map, cell)) {
            register = C::update(register, &[octet]);
            len = len.wrapping_add(1);
        }
        checked::<C>(len, register)
    }

    /// A delimiter came.
    fn end<C: Fcs>(&mut self, map: ControlMap, buffer: &mut [u8]) -> Option<Step> {
        let before = core::mem::take(self);
        let empty = before.len == 0 && !before.escape;
        if before.phase == Phase::Skip || (empty && (holds(2) || before.phase == Phase::Rest)) {
            return None;
        }
        let judged = match before.phase {
            Phase::Collect => before.judge::<C>(map, buffer),
            _ => Err(Reject::TooLong),
        };
        let mut ended = before;
        match judged {
            Err(_) if !before.plain && !empty && holds(9) => {
                if before.escape
                    && let Some(cell) = buffer.get_mut(ended.len)
                {
                    *cell = ESCAPE;
                    ended.len = ended.len.wrapping_add(1);
                }
                self.start_draining(ended.len, buffer);
                Some(self.piece(buffer))
            }
            Err(reject) => {
                ended.flatten(map, buffer);
                Some(Step::Refused { reject, len: ended.len })
            }
            Ok(len) => {
                ended.flatten(map, buffer);
                Some(Step::Frame { start: 0, len })
            }
        }
    }

    /// The buffer is full and the candidate goes on (W-8).
    fn overflow(&mut self, map: ControlMap, buffer: &mut [u8]) -> Step {
        let before = core::mem::take(self);
        if !before.plain && before.len != 0 && holds(9) {
            self.phase = if holds(8) { Phase::Rest } else { Phase::Collect };
            self.start_draining(before.len, buffer);
            return self.piece(buffer);
        }
        self.phase = if holds(8) { Phase::Skip } else { Phase::Collect };
        let mut refused = before;
        refused.flatten(map, buffer);
        Step::Refused { reject: Reject::TooLong, len: refused.len }
    }

    /// Moves the cells of a text to the end of the buffer, so that there is room before them to restore it.
    fn start_draining(&mut self, len: usize, buffer: &mut [u8]) {
        let start = buffer.len().saturating_sub(len);
        if len <= buffer.len() {
            buffer.copy_within(..len, start);
        }
        self.drain = Some(start);
    }

    /// The next piece of the text, as it came, at the start of the buffer.
    fn piece(&mut self, buffer: &mut [u8]) -> Step {
        let mut from = self.drain.take().unwrap_or(buffer.len());
        let mut len = 0_usize;
        if let (Some(half), Some(cell)) = (self.half.take(), buffer.first_mut()) {
            *cell = half;
            len = 1;
        }
        while let Some(&cell) = buffer.get(from) {
            let plain = cell & !MARK ^ FLIP;
            match buffer.get_mut(len..=from) {
                Some([first, ..]) if cell & MARK == 0 => {
                    *first = cell;
                    len = len.wrapping_add(1);
                }
                Some([first, second, ..]) => {
                    (*first, *second) = (ESCAPE, plain);
                    len = len.wrapping_add(2);
                }
                Some([first]) if from == 0 => {
                    *first = ESCAPE;
                    len = 1;
                    self.half = Some(plain);
                    self.drain = Some(1);
                    break;
                }
                _ => {
                    self.drain = Some(from);
                    break;
                }
            }
            from = from.wrapping_add(1);
        }
        Step::Text { len }
    }
}

impl OctetStuffing {
    /// Octet stuffing that also keeps the control characters of `map` off the wire.
    #[must_use]
    pub const fn new(map: ControlMap) -> Self {
        Self { map }
    }

    /// Octet stuffing for a wire that a console shares ([`ControlMap::CONSOLE_SAFE`]).
    #[must_use]
    pub const fn console_safe() -> Self {
        Self::new(ControlMap::CONSOLE_SAFE)
    }

    /// The control-character map.
    #[must_use]
    pub const fn map(self) -> ControlMap {
        self.map
    }

    /// Takes one octet that is no delimiter; a step means that it was not taken.
    fn take(self, state: &mut State, octet: u8, buffer: &mut [u8]) -> Option<Step> {
        if state.phase == Phase::Skip {
            return None;
        }
        if !state.plain && !is_text_octet(octet) {
            if state.phase == Phase::Rest {
                return Some(self.refuse_rest(state, buffer));
            }
            state.flatten(self.map, buffer);
        }
        if state.plain && !state.escape && self.map.names(octet) && holds(5) {
            return None;
        }
        let Some(cell) = buffer.get_mut(state.len) else {
            return Some(state.overflow(self.map, buffer));
        };
        if octet == ESCAPE && !state.escape {
            state.escape = true;
            return None;
        }
        let mark = if state.plain { 0 } else { MARK };
        *cell = if state.escape { octet ^ FLIP | mark } else { octet };
        state.escape = false;
        state.len = state.len.wrapping_add(1);
        None
    }

    /// What goes on after pieces of text is no text.
    fn refuse_rest(self, state: &mut State, buffer: &mut [u8]) -> Step {
        let mut refused = core::mem::take(state);
        state.phase = Phase::Skip;
        refused.flatten(self.map, buffer);
        Step::Refused { reject: Reject::TooLong, len: refused.len }
    }
}

impl Framing for OctetStuffing {
    type Order = super::order::Ordered;
    const DELIMITER: Option<u8> = Some(DELIMITER);
    type State = State;

    fn max_encoded_len(frame: usize) -> usize {
        max_encoded_len(frame).saturating_add(2)
    }

    fn encode(&self, parts: &[&[u8]], lead: Lead, out: &mut [u8]) -> Result<usize, NoRoom> {
        super::enclose(DELIMITER, lead, out, |out| encode(self.map, parts, out))
    }

    fn feed<C: Fcs>(&self, state: &mut State, input: &[u8], buffer: &mut [u8]) -> Fed {
        let mut at = 0_usize;
        loop {
            if cfg!(feature = "fcs-host") && state.plain && !state.escape && state.phase == Phase::Collect {
                let room = buffer.get_mut(state.len..).unwrap_or(&mut []);
                let taken = word::copy_until(input.get(at..).unwrap_or(&[]), room, special(self.map));
                state.len = state.len.wrapping_add(taken);
                at = at.wrapping_add(taken);
            }
            let Some(&octet) = input.get(at) else {
                return Fed { consumed: input.len(), step: Step::More };
            };
            if state.drain.is_some() {
                return Fed { consumed: at, step: state.piece(buffer) };
            }
            if octet != DELIMITER {
                if let Some(step) = self.take(state, octet, buffer) {
                    return Fed { consumed: at, step };
                }
            } else if let Some(step) = state.end::<C>(self.map, buffer) {
                // While a text is handed out in pieces its delimiter waits.
                let done = if state.drain.is_some() { 0 } else { 1 };
                return Fed { consumed: at.wrapping_add(done), step };
            }
            at = at.wrapping_add(1);
        }
    }

    fn held(&self, state: &State) -> usize {
        if state.drain.is_some() { usize::MAX } else { state.len }
    }

    fn pending_text(&self, state: &State, buffer: &[u8]) -> usize {
        if state.plain || state.drain.is_some() {
            return 0;
        }
        let cells = buffer.get(..state.len).unwrap_or(&[]);
        cells.iter().position(|cell| cell & MARK != 0).unwrap_or(cells.len())
    }
}

#[cfg(test)]
mod tests;
