//! Octets to what they hold, in batches: one pass over many octets, without an allocation for each frame.

use super::{
    aired::AiredSplitter,
    batch::{At, Batch, Found, NOT_PLAIN, Piece, offset},
    wide::Wide16,
};
use crate::endpoint::{FcsName, FramingName, Wiring};
use bellwire::{
    fcs::{Fcs, Fcs32},
    frame::{Header, Kind, Read, Reader, Reject, View},
    framing::{Cobs, ControlMap, Datagram, Framing, OctetStuffing, Slip, cobs, is_text},
};
use std::ops::Range;

/// Takes every frame that a link may state: 1024 octets of payload.
pub(crate) const LONGEST: usize = 1040;

/// Splits the octets of one port and direction; any cut of the octets gives the same pieces.
pub(crate) trait Split: Send {
    /// Appends what is complete in a range of the batch's input to its pieces.
    fn split(&mut self, range: Range<usize>, batch: &mut Batch);
    /// What looks like text and waits for its end.
    fn pending_text(&self) -> &[u8];
    /// Octets since the last delimiter: of a candidate that waits for its end.
    fn inside(&self) -> usize;
    /// Octets since the last piece, counted from zero again.
    fn take_open(&mut self) -> usize;
    /// Forgets what was collected, as if a delimiter had just come.
    fn reset(&mut self);
}

/// A framing whose candidates can be checked where they lie.
pub(super) trait InPlace: Framing {
    /// The delimiter, if they can.
    const AT: Option<u8> = None;
    /// Decodes and checks a candidate; gives where its frame is, without the FCS.
    fn check<C: Fcs>(candidate: &mut [u8]) -> Result<Range<usize>, Reject> {
        let _ = candidate;
        Err(Reject::BadFcs)
    }
}

impl InPlace for Cobs {
    const AT: Option<u8> = Self::DELIMITER;
    #[inline]
    fn check<C: Fcs>(candidate: &mut [u8]) -> Result<Range<usize>, Reject> {
        cobs::check_in_place::<C>(candidate)
    }
}

impl InPlace for OctetStuffing {}
impl InPlace for Slip {}
impl InPlace for Datagram {}

pub(super) struct Splitter<F: Framing, C: Fcs> {
    reader: Reader<F, C, LONGEST>,
    open: usize,
    inside: usize,
    ends: Vec<u32>,
}

impl<F: Framing, C: Fcs> Splitter<F, C> {
    pub(super) const fn new(framing: F) -> Self {
        Self { reader: Reader::new(framing), open: 0, inside: 0, ends: Vec::new() }
    }
}

impl<F: InPlace, C: Fcs> Splitter<F, C> {
    /// What a reader makes of octets.
    fn read(&mut self, octets: &[u8], batch: &mut Batch) {
        let mut rest = octets;
        while !rest.is_empty() {
            let (taken, read) = self.reader.feed(rest);
            self.open += taken;
            rest = rest.get(taken..).unwrap_or(&[]);
            let (found, octets) = match read {
                Some(Read::Frame(view)) => (Found::Frame(view.header), view.payload),
                Some(Read::Text(text)) => (Found::Text, text),
                Some(Read::Refused { reject, octets }) => (Found::Refused(reject), octets),
                None if taken == 0 => return,
                None => continue,
            };
            batch.push(found, octets, std::mem::take(&mut self.open));
        }
    }

    /// The candidates of `input[from..to]`, which starts right after a delimiter and ends with one.
    fn in_place(&mut self, delimiter: u8, from: usize, to: usize, input: &mut [u8], batch: &mut Batch) {
        let mut ends = std::mem::take(&mut self.ends);
        ends.clear();
        find_all(delimiter, input.get(from..to).unwrap_or(&[]), &mut ends);
        batch.pieces.reserve(ends.len());
        let mut start = from;
        for &end in &ends {
            let end = from + end as usize;
            let len = end - start;
            if len > LONGEST {
                self.read(input.get(start..=end).unwrap_or(&[]), batch);
            } else if let Some(candidate) =
                input.get_mut(start..end).filter(|candidate| !candidate.is_empty())
            {
                let (found, message, range) = judge::<F, C>(candidate);
                let wire = offset(std::mem::take(&mut self.open) + len + 1);
                let at = At::Input(offset(start + range.start));
                batch.pieces.push(Piece {
                    found,
                    wire,
                    at,
                    len: offset(range.len()),
                    message,
                    sending: 1,
                    agreement: 0,
                });
            } else {
                self.open += 1;
            }
            start = end + 1;
        }
        self.ends = ends;
    }
}

/// Where the delimiters are. Finds those of 64 octets at once, so that it seldom has to guess what comes next.
fn find_all(delimiter: u8, octets: &[u8], ends: &mut Vec<u32>) {
    let mut base = 0;
    let (blocks, rest) = octets.as_chunks::<64>();
    for block in blocks {
        let mut found = 0_u64;
        let (words, _) = block.as_chunks::<8>();
        for (index, word) in words.iter().enumerate() {
            let word = u64::from_le_bytes(*word) ^ u64::from_le_bytes([delimiter; 8]);
            let zeros = !(((word & LOW_SEVEN) + LOW_SEVEN) | word | LOW_SEVEN) >> 7;
            // One bit of each octet, gathered into eight: every product bit but the top octet's is of no interest.
            found |= (zeros.wrapping_mul(0x0102_0408_1020_4080) >> 56) << (8 * index);
        }
        while found != 0 {
            ends.push(base + found.trailing_zeros());
            found &= found - 1;
        }
        base += 64;
    }
    ends.extend((base..).zip(rest).filter(|(_, octet)| **octet == delimiter).map(|(at, _)| at));
}

const LOW_SEVEN: u64 = 0x7F7F_7F7F_7F7F_7F7F;

/// What a candidate is, its message number if it is plain, and where its payload, its text or what is left of it lies.
#[inline]
fn judge<F: InPlace, C: Fcs>(candidate: &mut [u8]) -> (Found, u16, Range<usize>) {
    let frame = match F::check::<C>(candidate) {
        Ok(frame) => frame,
        Err(_) if is_text(candidate) => return (Found::Text, NOT_PLAIN, 0..candidate.len()),
        Err(reject) => return (Found::Refused(reject), NOT_PLAIN, 0..candidate.len()),
    };
    let octets = candidate.get(frame.clone()).unwrap_or(&[]);
    if let &[control, number, message, ..] = octets
        && let Some(header) = plain(control, number, message)
    {
        return (Found::Frame(header), u16::from(message), frame.start + 2..frame.end);
    }
    match View::parse(octets, !F::ORDERED) {
        Ok(view) => (Found::Frame(view.header), NOT_PLAIN, frame.end - view.payload.len()..frame.end),
        Err(reject) => (Found::Refused(reject), NOT_PLAIN, frame),
    }
}

/// The header of a message without addresses, acknowledgement, tag or a long message number: most frames by far are such, and need
/// not go through [`View::parse`], to which a test holds this.
#[inline]
fn plain(control: u8, number: u8, message: u8) -> Option<Header> {
    const KINDS: [Option<Kind>; 8] = [
        None,
        None,
        Some(Kind::Errand),
        Some(Kind::Report),
        Some(Kind::SetPoint),
        None,
        Some(Kind::Notice),
        None,
    ];
    let header = Header { session: control & 3, number, ..Header::new(KINDS[usize::from(control >> 5)]?) };
    (control & 0b0001_1100 == 0 && message < 0x80).then_some(header)
}

impl<F: InPlace + Send, C: Fcs + Send> Split for Splitter<F, C>
where
    F::State: Send,
{
    fn split(&mut self, range: Range<usize>, batch: &mut Batch) {
        let mut input = std::mem::take(&mut batch.input);
        let octets = input.get(range.clone()).unwrap_or(&[]);
        match F::DELIMITER.map(|delimiter| memchr::memrchr(delimiter, octets)) {
            Some(Some(last)) => {
                let mut from = range.start;
                let to = range.start + last + 1;
                if let Some(delimiter) = F::AT {
                    // A candidate that began before goes through the reader, which has its beginning.
                    if self.inside > 0 {
                        let end = memchr::memchr(delimiter, octets).unwrap_or(last);
                        self.read(octets.get(..=end).unwrap_or(&[]), batch);
                        from += end + 1;
                    }
                    self.in_place(delimiter, from, to, &mut input, batch);
                    from = to;
                }
                self.read(input.get(from..range.end).unwrap_or(&[]), batch);
                self.inside = range.end - to;
            }
            found => {
                self.read(octets, batch);
                self.inside += if found.is_some() { octets.len() } else { 0 };
            }
        }
        batch.input = input;
    }

    fn pending_text(&self) -> &[u8] {
        self.reader.pending_text()
    }

    fn inside(&self) -> usize {
        self.inside
    }

    fn take_open(&mut self) -> usize {
        std::mem::take(&mut self.open)
    }

    fn reset(&mut self) {
        self.reader.reset();
        (self.open, self.inside) = (0, 0);
    }
}

/// The octet that ends a frame in this framing, if any.
pub(crate) const fn delimiter(framing: FramingName) -> Option<u8> {
    match framing {
        FramingName::Cobs | FramingName::RadioBoard => Cobs::DELIMITER,
        FramingName::OctetStuffing => OctetStuffing::DELIMITER,
        FramingName::Slip => Slip::DELIMITER,
        FramingName::Datagram => None,
    }
}

/// A splitter for this wiring.
pub(crate) fn splitter(wiring: Wiring) -> Box<dyn Split> {
    match wiring.framing {
        FramingName::Cobs => with_fcs(Cobs, wiring.fcs),
        FramingName::OctetStuffing => with_fcs(OctetStuffing::new(ControlMap(wiring.map)), wiring.fcs),
        FramingName::Slip => with_fcs(Slip, wiring.fcs),
        FramingName::Datagram => with_fcs(Datagram, wiring.fcs),
        FramingName::RadioBoard => match wiring.fcs {
            FcsName::Bits16 => Box::new(AiredSplitter::<Wide16>::new()),
            FcsName::Bits32 => Box::new(AiredSplitter::<Fcs32>::new()),
        },
    }
}

fn with_fcs<F: InPlace + Send + 'static>(framing: F, fcs: FcsName) -> Box<dyn Split>
where
    F::State: Send,
{
    match fcs {
        FcsName::Bits16 => with::<F, Wide16>(framing),
        FcsName::Bits32 => with::<F, Fcs32>(framing),
    }
}

fn with<F: InPlace + Send + 'static, C: Fcs + Send + 'static>(framing: F) -> Box<dyn Split>
where
    F::State: Send,
{
    Box::new(Splitter::<F, C>::new(framing))
}

#[cfg(test)]
mod tests {
    use super::*;
    use bellwire::{fcs::Fcs16, framing::Air};
    use bellwire_tests::seed;
    use proptest::prelude::*;

    /// The pieces with their octets, from a splitter that is given all octets at once and from the reader alone, one by one.
    fn both(stream: &[u8], wiring: Wiring) -> [Vec<(Found, u32, Vec<u8>)>; 2] {
        let collect = |sizes: usize| {
            let (mut split, mut all) = (splitter(wiring), Vec::new());
            let mut open = 0;
            for part in stream.chunks(sizes.max(1)) {
                let mut batch = Batch { input: part.to_vec(), ..Batch::default() };
                split.split(0..part.len(), &mut batch);
                for piece in &batch.pieces {
                    all.push((
                        piece.found,
                        piece.wire + std::mem::take(&mut open),
                        batch.octets(piece).to_vec(),
                    ));
                }
            }
            all
        };
        [collect(stream.len()), collect(1)]
    }

    #[test]
    fn all_delimiters_are_found_and_nothing_else() {
        let octets: Vec<u8> =
            (0..10_000_u32).map(|n| (n.wrapping_mul(2_654_435_761) >> 24) as u8 & 0x8F).collect();
        for delimiter in [0, 1, 0x7E, 0x80] {
            for len in [0, 1, 63, 64, 65, 1000, octets.len()] {
                let mut ends = Vec::new();
                find_all(delimiter, &octets[..len], &mut ends);
                let wanted: Vec<u32> = memchr::memchr_iter(delimiter, &octets[..len]).map(offset).collect();
                assert_eq!(ends, wanted);
            }
        }
    }

    #[test]
    fn many_octets_at_a_time_give_what_the_reader_gives() {
        let seed = seed("many_octets_at_a_time_give_what_the_reader_gives");
        let frame = (proptest::collection::vec(any::<u8>(), 0..300), any::<bool>(), any::<u8>(), any::<u8>());
        let part = frame.prop_map(|(octets, good, flip, at)| {
            let mut fcs = Fcs16::octets(Fcs16::update(Fcs16::INIT, &octets));
            fcs[0] ^= u8::from(!good) << (flip & 7);
            let mut out = vec![0; octets.len() + 8];
            let len = cobs::encode(&[&octets, &fcs[..2]], &mut out).unwrap();
            out.truncate(len + 1);
            if flip > 240 {
                let at = usize::from(at) % out.len();
                out[at] = flip;
            }
            out
        });
        // Datagrams of a radio board, good and bad, in frames of its UART.
        let datagram = (proptest::collection::vec(any::<u8>(), 2..60), any::<bool>(), 1_u8..4);
        let aired = datagram.prop_map(|(octets, good, form)| {
            let mut fcs = Fcs16::octets(Fcs16::update(Fcs16::INIT, &octets));
            fcs[0] ^= u8::from(!good);
            let datagram = [&octets[..], &fcs[..2]].concat();
            let air = match form {
                1 => Air::Send { datagram: &datagram },
                2 => Air::Heard { at: 7, strength: Some(-93), datagram: &datagram },
                _ => Air::Sent { at: 7, tail: [1, 2] },
            };
            let mut out = vec![0; 100];
            let len = air.encode(&mut out).unwrap();
            out.truncate(len);
            out
        });
        let text = "[ -~\\r\\n]{0,40}\0".prop_map(String::into_bytes);
        let parts = proptest::collection::vec(prop_oneof![4 => part, 2 => aired, 1 => text], 0..12);
        let result = seed.runner(512).run(&parts, |parts| {
            for (framing, fcs) in [FramingName::Cobs, FramingName::RadioBoard]
                .into_iter()
                .flat_map(|framing| FcsName::ALL.map(|fcs| (framing, fcs)))
            {
                let [whole, single] = both(&parts.concat(), Wiring { framing, fcs, map: 0 });
                prop_assert_eq!(whole, single);
            }
            Ok(())
        });
        result.unwrap();
    }
}
