//! The conversations of all ports and the counts over them: the part that must see all frames in order.

use super::{
    Event, Frame, Note, Record, Refusal, Stamp, Sum, Text, What,
    batch::{Batch, Found, NOT_PLAIN},
    hint::hint,
    observer::{Observer, Sighting, Told},
    record::skipped,
    split::Split,
};
use crate::endpoint::Direction;
use bellwire::frame::{Addresses, Kind};
use std::{borrow::Cow, collections::BTreeMap, ops::Range};

/// Where and when a stretch of octets was seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Whence {
    pub(crate) at: Option<u64>,
    pub(crate) port: u16,
    pub(crate) direction: Direction,
}

impl Whence {
    pub(crate) const fn stamp(self, place: u64) -> Stamp {
        Stamp { at: self.at, port: self.port, direction: self.direction, place }
    }
}

/// The conversations of all ports and the counts over them.
#[derive(Debug, Clone, Default)]
pub(crate) struct Conversations {
    ports: Vec<Port>,
    told: Told,
    sum: Sum,
}

#[derive(Debug, Clone, Default)]
struct Port {
    observer: Observer,
    /// On a medium that others share: the conversation of each leaf with the hub, and under 255 what goes to all.
    leaves: BTreeMap<u8, Conversation>,
    /// Octets up to the end of the last piece, by direction.
    place: [u64; 2],
}

/// One leaf's conversation with the hub. To its observer the leaf's frames come in, whichever way they went here.
#[derive(Debug, Clone, Default)]
struct Conversation {
    observer: Observer,
    /// Which way the frames of the leaf and of the hub went here.
    ways: [Option<Direction>; 2],
}

impl Conversation {
    /// Takes a frame; gives which sending it is, and the agreement of its sender.
    fn frame(
        &mut self,
        seen: &Sighting<'_>,
        addresses: Addresses,
        sum: &mut Sum,
        told: &mut Told,
    ) -> (u8, u32) {
        let side = if addresses.from == 0 { Direction::Out } else { Direction::In };
        self.ways[side as usize] = Some(seen.direction);
        let seen = Sighting { direction: side, ..*seen };
        let sending = if addresses.to == TO_ALL {
            self.observer.broadcast(&seen, sum, told)
        } else {
            self.observer.frame(&seen, sum, told)
        };
        self.went(told);
        (sending, self.observer.agreement(side))
    }

    /// Turns the sides of what was told into the ways that frames went here.
    fn went(&self, told: &mut Told) {
        for (side, _) in told {
            *side = self.ways[*side as usize].unwrap_or(*side);
        }
    }
}

/// The address of all leaves.
const TO_ALL: u8 = 255;

/// Whose conversation a frame belongs to: the leaf's, or that of all.
const fn leaf_of(addresses: Addresses) -> u8 {
    if addresses.from == 0 { addresses.to } else { addresses.from }
}

/// An event and the piece it belongs to.
pub(crate) type Verdict = (u32, Event);

/// Verdicts not yet told.
pub(crate) type Verdicts<'a> = std::iter::Peekable<std::slice::Iter<'a, Verdict>>;

impl Conversations {
    /// Counts over all that was seen.
    pub(crate) const fn sum(&self) -> &Sum {
        &self.sum
    }

    /// Counts to add to what the pieces do not show.
    pub(crate) const fn sum_mut(&mut self) -> &mut Sum {
        &mut self.sum
    }

    /// Octets of this port and direction up to the end of the last piece.
    pub(crate) fn place(&self, port: u16, direction: Direction) -> u64 {
        self.ports.get(usize::from(port)).map_or(0, |port| port.place[direction as usize])
    }

    fn port(&mut self, port: u16) -> &mut Port {
        let index = usize::from(port);
        if self.ports.len() <= index {
            self.ports.resize_with(index + 1, Port::default);
        }
        &mut self.ports[index]
    }

    /// Where a flow ends: tells and counts what was half read there. Text counts as text, also without its end.
    pub(crate) fn end(
        &mut self,
        whence: Whence,
        split: &dyn Split,
        shown: usize,
        sink: &mut dyn FnMut(Record<'_>),
    ) {
        self.sum.text_octets += split.pending_text().len() as u64;
        half_read(whence, self.place(whence.port, whence.direction), split, shown, sink);
    }

    /// Counts octets that were taken in, whatever they hold.
    pub(crate) fn taken(&mut self, at: Option<u64>, octets: usize) {
        self.sum.octets += octets as u64;
        if let Some(at) = at {
            let (first, last) = self.sum.span.unwrap_or((at, at));
            self.sum.span = Some((first.min(at), last.max(at)));
        }
    }

    /// Follows the pieces of one stretch of octets, in order; gives the place of the first one.
    pub(crate) fn observe(
        &mut self,
        whence: Whence,
        batch: &mut Batch,
        pieces: Range<usize>,
        verdicts: &mut Vec<Verdict>,
    ) -> u64 {
        let Whence { at, port, direction } = whence;
        self.port(port);
        let Self { ports, told, sum } = self;
        let Some(Port { observer, leaves, place: places }) = ports.get_mut(usize::from(port)) else {
            return 0;
        };
        let first = places[direction as usize];
        let mut place = first;
        let mut bits = observer.bits();
        let mut agreement = observer.agreement(direction);
        for index in pieces {
            let Some(&piece) = batch.pieces.get(index) else { break };
            match piece.found {
                Found::Frame(header) => {
                    sum.frames[header.kind as usize - 1] += 1;
                    if agreement != 0 {
                        batch.pieces[index].agreement = agreement;
                    }
                    let is_told = match header.kind.class() {
                        Some(class) if piece.message != NOT_PLAIN && Some(header.session) == bits => {
                            let what = (class, header.number, piece.message);
                            !observer.plain(at, direction, what, piece.len(), sum)
                        }
                        _ => true,
                    };
                    if is_told {
                        let seen = Sighting { at, direction, header: &header, payload: batch.octets(&piece) };
                        let leaf = header.addresses.map(leaf_of);
                        if let Some((leaf, addresses)) = leaf.zip(header.addresses) {
                            let conversation = leaves.entry(leaf).or_default();
                            let (sending, stated) = conversation.frame(&seen, addresses, sum, told);
                            batch.pieces[index].sending = sending;
                            batch.pieces[index].agreement = stated;
                        } else {
                            batch.pieces[index].sending = observer.frame(&seen, sum, told);
                            bits = observer.bits();
                            agreement = observer.agreement(direction);
                        }
                        let place = whence.stamp(place);
                        verdicts.extend(told.drain(..).map(|(direction, what)| {
                            let stamp = Stamp { direction, ..place };
                            (u32::try_from(index).unwrap_or(u32::MAX), Event { stamp, leaf, what })
                        }));
                    }
                }
                Found::Text => sum.text_octets += u64::from(piece.len()),
                Found::Refused(reject) => {
                    if let Some(beyond) = skipped(reject, batch.octets(&piece)) {
                        sum.frames[Kind::Extended as usize - 1] += 1;
                        sum.enclosed += u64::from(beyond.encloses());
                        place += u64::from(piece.wire);
                        continue;
                    }
                    sum.rejects[usize::from(reject.code())] += 1;
                    sum.reject_octets += u64::from(piece.wire);
                }
            }
            place += u64::from(piece.wire);
        }
        places[direction as usize] = place;
        first
    }

    /// Time has passed on a port.
    pub(crate) fn tick(&mut self, now: u64, port: u16) -> Vec<Event> {
        let entry = self.port(port);
        let place = entry.place;
        let mut events = Vec::new();
        let mut tell = |leaf, told: Told| {
            events.extend(told.into_iter().map(|(direction, what)| {
                let place = place[direction as usize];
                Event { stamp: Stamp { at: Some(now), port, direction, place }, leaf, what }
            }));
        };
        let mut told = Told::new();
        entry.observer.tick(now, &mut told);
        tell(None, told);
        for (leaf, conversation) in &mut entry.leaves {
            let mut told = Told::new();
            conversation.observer.tick(now, &mut told);
            conversation.went(&mut told);
            tell(Some(*leaf), told);
        }
        events
    }
}

/// Pieces as records, with what was told of them.
pub(crate) fn emit(
    whence: Whence,
    batch: &Batch,
    pieces: Range<usize>,
    mut place: u64,
    verdicts: &mut Verdicts<'_>,
    sink: &mut dyn FnMut(Record<'_>),
) {
    for index in pieces {
        let Some(piece) = batch.pieces.get(index) else { break };
        let octets = Cow::Borrowed(batch.octets(piece));
        let (stamp, wire, aired) = (whence.stamp(place), piece.wire, batch.aired(piece));
        let mine = |(of, _): &&Verdict| *of as usize == index;
        let leads = |verdict: &&Verdict| mine(verdict) && verdict.1.what.leads();
        let is_told = verdicts.peek().is_some_and(&mine);
        while is_told && let Some((_, event)) = verdicts.next_if(leads) {
            sink(Record::Event(event.clone()));
        }
        sink(match piece.found {
            Found::Frame(header) => {
                let (sending, agreement) = (piece.sending, piece.agreement);
                Record::Frame(Frame { stamp, wire, header, payload: octets, sending, agreement, aired })
            }
            Found::Text => {
                let hint = hint(&octets);
                Record::Text(Text { stamp, octets, hint })
            }
            Found::Refused(reject) => Record::Reject(Refusal { stamp, wire, reject, octets, aired }),
        });
        while is_told && let Some((_, event)) = verdicts.next_if(mine) {
            sink(Record::Event(event.clone()));
        }
        place += u64::from(wire);
    }
}

/// What is half read where a flow ends: text that waits for its end (without the octets shown already), or a note of how much is
/// left of a frame. `place` is the end of the last piece.
fn half_read(whence: Whence, place: u64, split: &dyn Split, shown: usize, sink: &mut dyn FnMut(Record<'_>)) {
    let (text, inside) = (split.pending_text(), split.inside());
    if !text.is_empty() {
        waiting_text(whence, place, text, shown, sink);
    } else if inside > 0 {
        let (at, port) = (whence.at, Some(whence.port));
        let text = format!("ends inside a frame: after the last delimiter {inside} octets are left");
        sink(Record::Note(Note { at, port, text }));
    }
}

/// Text that waits for its end, without the octets shown already.
pub(super) fn waiting_text(
    whence: Whence,
    place: u64,
    text: &[u8],
    shown: usize,
    sink: &mut dyn FnMut(Record<'_>),
) {
    if let Some(more) = text.get(shown..).filter(|more| !more.is_empty()) {
        let stamp = whence.stamp(place + shown as u64);
        sink(Record::Text(Text { stamp, octets: Cow::Borrowed(more), hint: hint(text) }));
    }
}

impl What {
    /// Whether it is told before the frame that showed it: it happened earlier.
    const fn leads(&self) -> bool {
        matches!(
            self,
            Self::Missing { .. }
                | Self::Silent { .. }
                | Self::SessionUnseen { .. }
                | Self::OtherSession { .. }
        )
    }
}
