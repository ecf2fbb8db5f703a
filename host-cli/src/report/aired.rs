//! Octets of a radio board's UART to what its datagrams hold (W-63).

use super::{
    batch::{Batch, Found},
    split::{LONGEST, Split, Splitter},
    wide::Wide16,
};
use bellwire::{
    fcs::Fcs,
    frame::{MAX_HEADER, Read, Reader, Reject},
    framing::{Air, Cobs, Datagram},
};
use std::ops::Range;

/// What a radio board told of a datagram beside its octets.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Aired {
    /// It is to be sent: the computer asked for it.
    Out,
    /// It was heard.
    Heard {
        /// When, µs of the board's clock, wrapping.
        at: u32,
        /// How strong, dBm, if the radio tells.
        strength: Option<i16>,
    },
}

impl Aired {
    /// In words: `heard at -93 dBm, board 1.500000 s`.
    #[must_use]
    pub fn words(self) -> String {
        match self {
            Self::Out => "to the air".to_owned(),
            Self::Heard { at, strength } => {
                let strength = strength.map_or_else(String::new, |dbm| format!(" at {dbm} dBm"));
                format!("heard{strength}, board {}.{:06} s", at / 1_000_000, at % 1_000_000)
            }
        }
    }
}

/// Splits the UART, then looks into each datagram.
pub(super) struct AiredSplitter<C: Fcs> {
    uart: Splitter<Cobs, Wide16>,
    datagrams: Reader<Datagram, C, LONGEST>,
    found: Batch,
}

impl<C: Fcs> AiredSplitter<C> {
    pub(super) const fn new() -> Self {
        Self {
            uart: Splitter::new(Cobs),
            datagrams: Reader::new(Datagram),
            found: Batch { pieces: Vec::new(), input: Vec::new(), spill: Vec::new() },
        }
    }

    /// What a datagram holds; `wire` octets of the UART brought it.
    fn datagram(&mut self, octets: &[u8], aired: Aired, mut wire: usize, batch: &mut Batch) {
        let mut rest = octets;
        while !rest.is_empty() {
            let (taken, read) = self.datagrams.feed(rest);
            rest = rest.get(taken..).unwrap_or(&[]);
            let (found, octets) = match read {
                Some(Read::Frame(view)) => (Found::Frame(view.header), view.payload),
                Some(Read::Text(text)) => (Found::Text, text),
                Some(Read::Refused { reject, octets }) => (Found::Refused(reject), octets),
                None if taken == 0 => return,
                None => continue,
            };
            batch.push_aired(found, aired, octets, std::mem::take(&mut wire));
        }
    }
}

impl<C: Fcs + Send> Split for AiredSplitter<C> {
    fn split(&mut self, range: Range<usize>, batch: &mut Batch) {
        let mut uart = std::mem::take(&mut self.found);
        uart.clear();
        uart.input.extend_from_slice(batch.input.get(range).unwrap_or(&[]));
        self.uart.split(0..uart.input.len(), &mut uart);
        for piece in &uart.pieces {
            let (octets, wire) = (uart.octets(piece), piece.wire as usize);
            match (piece.found, Air::read(octets)) {
                (Found::Refused(Reject::UnknownExtension), Ok(Air::Send { datagram })) => {
                    self.datagram(datagram, Aired::Out, wire, batch);
                }
                (Found::Refused(Reject::UnknownExtension), Ok(Air::Heard { at, strength, datagram })) => {
                    self.datagram(datagram, Aired::Heard { at, strength }, wire, batch);
                }
                // A frame, but none of this layer.
                (Found::Frame(header), _) => {
                    let mut frame = [0; MAX_HEADER];
                    let head = header.write(&mut frame);
                    let frame = [frame.get(..head).unwrap_or(&[]), octets].concat();
                    batch.push(Found::Refused(Reject::UnknownExtension), &frame, wire);
                }
                (found, _) => batch.push(found, octets, wire),
            }
        }
        self.found = uart;
    }

    fn pending_text(&self) -> &[u8] {
        self.uart.pending_text()
    }

    fn inside(&self) -> usize {
        self.uart.inside()
    }

    fn take_open(&mut self) -> usize {
        self.uart.take_open()
    }

    fn reset(&mut self) {
        self.uart.reset();
        self.datagrams.reset();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use bellwire::{fcs::Fcs16, frame::View};

    /// As it goes over the UART.
    fn wire(air: Air<'_>) -> Vec<u8> {
        let mut out = vec![0; 80];
        let len = air.encode(&mut out).unwrap();
        out.truncate(len);
        out
    }

    fn split(octets: &[u8]) -> Vec<(Found, Option<Aired>, Vec<u8>, u32)> {
        let mut batch = Batch { input: octets.to_vec(), ..Batch::default() };
        let mut split = AiredSplitter::<Fcs16>::new();
        split.split(0..octets.len(), &mut batch);
        let told = |piece| (batch.aired(piece), batch.octets(piece).to_vec());
        batch
            .pieces
            .iter()
            .map(|piece| (piece, told(piece)))
            .map(|(piece, (aired, octets))| (piece.found, aired, octets, piece.wire))
            .collect()
    }

    /// The datagram of the crate's example of HEARD, an ACK with tag and FCS by hand; damaged, it is refused with what the radio told.
    #[test]
    fn datagrams_come_out_with_what_the_board_told() {
        let datagram = [0xA1, 0x34, 0x12, 0x00, 0x5C, 0x0E];
        let aired = Aired::Heard { at: 1_000_000, strength: Some(-93) };
        assert_eq!(aired.words(), "heard at -93 dBm, board 1.000000 s");
        let heard = |datagram| Air::Heard { at: 1_000_000, strength: Some(-93), datagram };
        let good = wire(heard(&datagram));
        let found = split(&good);
        let fcs = Fcs16::octets(Fcs16::update(Fcs16::INIT, &datagram[..4]));
        if fcs[..2] == datagram[4..] {
            let view = View::parse(&datagram[..4], true).unwrap();
            assert_eq!(found[0].0, Found::Frame(view.header));
        }
        assert_eq!((found.len(), found[0].1), (1, Some(aired)));
        assert_eq!(found[0].3 as usize, good.len());
        let mut spoilt = datagram;
        spoilt[3] ^= 1;
        let found = split(&wire(heard(&spoilt)));
        assert_eq!(found[0].0, Found::Refused(Reject::BadFcs));
        assert_eq!((found[0].1, found[0].2.as_slice()), (Some(aired), &spoilt[..]));
        let found = split(&[good, wire(Air::Send { datagram: &datagram })].concat());
        assert_eq!(found[1].1, Some(Aired::Out));
    }

    #[test]
    fn what_the_board_answers_and_foreign_frames_are_not_from_the_air() {
        let sent = wire(Air::Sent { at: 7, tail: [1, 2] });
        let found = split(&sent);
        assert_eq!((found[0].0, found[0].1), (Found::Refused(Reject::UnknownExtension), None));
        assert_eq!(found[0].2, [0xE0, 0x16, 3, 7, 0, 0, 0, 1, 2]);
        // The lamp's errand of the README, which is no datagram of a radio board.
        let lamp = [0x00, 0x07, 0x41, 0x1C, 0x09, 0x28, 0xB6, 0xAC, 0x00];
        let found = split(&lamp);
        assert_eq!(found[0].0, Found::Refused(Reject::UnknownExtension));
        assert_eq!((found[0].1, found[0].2.as_slice()), (None, &lamp[2..6]));
    }
}
