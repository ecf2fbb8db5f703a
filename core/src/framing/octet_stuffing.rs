//! Octet stuffing of RFC 1662 section 4 with a selectable control-character map (W-5).
//!
//! While a candidate consists of text octets alone it may still turn out to be foreign text (W-9), which must come out exactly as
//! it came. Text octets have no top bit, so until the first other octet the decoder marks each octet that came escaped by its top
//! bit: a frame never takes more room than its octets, and a text can still be restored.

mod restore;

use self::restore::drain;
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
    /// Where the rest of the text that is being handed out begins; 0: none is, for the first piece begins before it.
    drain: usize,
    phase: Phase,
    /// The escape octet came last.
    escape: bool,
    /// An octet that is no text came: the buffer holds plain octets, without marks.
    plain: bool,
    /// Second half of an escaped pair whose first half was handed out alone; 0: none, for it is a text octet.
    half: u8,
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

    /// Begins anew, in this phase.
    fn restart(&mut self, phase: Phase) {
        self.len = 0;
        self.phase = phase;
        self.escape = false;
        self.plain = false;
    }

    /// A delimiter came.
    fn end<C: Fcs>(&mut self, map: ControlMap, buffer: &mut [u8]) -> Option<Step> {
        let empty = self.len == 0 && !self.escape;
        if self.phase == Phase::Skip || (empty && (holds(2) || self.phase == Phase::Rest)) {
            self.restart(Phase::Collect);
            return None;
        }
        let judged =
            if self.phase == Phase::Collect { self.judge::<C>(map, buffer) } else { Err(Reject::TooLong) };
        Some(self.close(map, judged, [Phase::Collect; 2], buffer))
    }

    /// The buffer is full and the candidate goes on (W-8).
    #[inline(never)]
    fn overflow(&mut self, map: ControlMap, buffer: &mut [u8]) -> Step {
        let next = if holds(8) { [Phase::Rest, Phase::Skip] } else { [Phase::Collect; 2] };
        self.close(map, Err(Reject::TooLong), next, buffer)
    }

    /// What was collected is a frame, text or refused. Goes on in the first of these phases after text, else in the second.
    #[inline(never)]
    fn close(
        &mut self,
        map: ControlMap,
        judged: Result<usize, Reject>,
        next: [Phase; 2],
        buffer: &mut [u8],
    ) -> Step {
        let [after_text, after_all_else] = next;
        let empty = self.len == 0 && !self.escape;
        if judged.is_err() && !self.plain && !empty && holds(9) {
            if self.escape
                && let Some(cell) = buffer.get_mut(self.len)
            {
                *cell = ESCAPE;
                self.len = self.len.wrapping_add(1);
            }
            let from = drain(self.len, buffer);
            self.restart(after_text);
            return self.piece(from, buffer);
        }
        self.flatten(map, buffer);
        let left = self.len;
        self.restart(after_all_else);
        match judged {
            Ok(len) => Step::Frame { start: 0, len },
            Err(reject) => Step::Refused { reject, len: left },
        }
    }
}

/// Copies octets up to the first that means something else than itself in a candidate that is no text, as many as fit; gives how many.
#[inline(always)]
fn copy_plain(map: ControlMap, from: &[u8], to: &mut [u8]) -> usize {
    if cfg!(feature = "fcs-host") {
        word::copy_until(from, to, special(map))
    } else {
        copy_one_by_one(map, from, to)
    }
}

/// [`copy_plain`] for boards: little code, and octets below 0x20 that the map does not name are no reason to stop.
#[inline(always)]
fn copy_one_by_one(map: ControlMap, from: &[u8], to: &mut [u8]) -> usize {
    let mut taken = 0_usize;
    for (&octet, cell) in from.iter().zip(to) {
        if octet == DELIMITER || octet == ESCAPE || map.names(octet) {
            break;
        }
        *cell = octet;
        taken = taken.wrapping_add(1);
    }
    taken
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
            state.flatten(self.map, buffer);
            if state.phase == Phase::Rest {
                // What goes on after pieces of text is no text.
                return Some(state.close(self.map, Err(Reject::TooLong), [Phase::Skip; 2], buffer));
            }
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
}

impl Framing for OctetStuffing {
    type Order = super::order::Ordered;
    const DELIMITER: Option<u8> = Some(DELIMITER);
    type State = State;
    const START: State =
        State { len: 0, drain: 0, phase: Phase::Collect, escape: false, plain: false, half: 0 };

    fn max_encoded_len(frame: usize) -> usize {
        max_encoded_len(frame).saturating_add(2)
    }

    fn encode(&self, parts: &[&[u8]], lead: Lead, out: &mut [u8]) -> Result<usize, NoRoom> {
        super::enclose(DELIMITER, lead, out, |out| encode(self.map, parts, out))
    }

    fn feed<C: Fcs>(&self, state: &mut State, input: &[u8], buffer: &mut [u8]) -> Fed {
        if state.drain != 0 && !input.is_empty() {
            return Fed { consumed: 0, step: state.piece(state.drain, buffer) };
        }
        let mut at = 0_usize;
        loop {
            if state.plain && !state.escape && state.phase == Phase::Collect {
                let room = buffer.get_mut(state.len..).unwrap_or(&mut []);
                let taken = copy_plain(self.map, input.get(at..).unwrap_or(&[]), room);
                state.len = state.len.wrapping_add(taken);
                at = at.wrapping_add(taken);
            }
            let Some(&octet) = input.get(at) else {
                return Fed { consumed: input.len(), step: Step::More };
            };
            if octet != DELIMITER {
                if let Some(step) = self.take(state, octet, buffer) {
                    return Fed { consumed: at, step };
                }
            } else if let Some(step) = state.end::<C>(self.map, buffer) {
                // While a text is handed out in pieces its delimiter waits.
                let done = if state.drain == 0 { 1 } else { 0 };
                return Fed { consumed: at.wrapping_add(done), step };
            }
            at = at.wrapping_add(1);
        }
    }

    fn held(&self, state: &State) -> usize {
        if state.drain == 0 { state.len } else { usize::MAX }
    }

    fn pending_text(&self, state: &State, buffer: &[u8]) -> usize {
        if state.plain || state.drain != 0 {
            return 0;
        }
        let cells = buffer.get(..state.len).unwrap_or(&[]);
        cells.iter().position(|cell| cell & MARK != 0).unwrap_or(cells.len())
    }
}

#[cfg(test)]
mod tests;
