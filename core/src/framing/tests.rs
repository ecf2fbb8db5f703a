//! Properties that every framing keeps.

use std::{boxed::Box, vec, vec::Vec};

use proptest::prelude::*;

use super::*;
use crate::fcs::{Fcs16, Fcs32};

/// A step with its octets.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Found {
    Frame(Vec<u8>),
    Text(Vec<u8>),
    Refused(Reject, Vec<u8>),
}

/// Everything found in a stream that comes in chunks, with a buffer of `room` octets.
fn read<'a, F: Framing, C: Fcs>(
    framing: &F,
    chunks: impl IntoIterator<Item = &'a [u8]>,
    room: usize,
) -> Vec<Found> {
    let mut state = F::State::default();
    let mut buffer = vec![0; room];
    let mut all = Vec::new();
    for chunk in chunks {
        let mut rest = chunk;
        loop {
            let fed = framing.feed::<C>(&mut state, rest, &mut buffer);
            rest = &rest[fed.consumed..];
            all.push(match fed.step {
                Step::More => break,
                Step::Frame { start, len } => Found::Frame(buffer[start..][..len].to_vec()),
                Step::Text { len } => Found::Text(buffer[..len].to_vec()),
                Step::Refused { reject, len } => Found::Refused(reject, buffer[..len].to_vec()),
            });
        }
        assert!(rest.is_empty());
        assert!(framing.pending_text(&state, &buffer) <= room);
    }
    all
}

fn wire<F: Framing, C: Fcs>(framing: &F, frame: &[u8], lead: Lead) -> Vec<u8> {
    let fcs = C::octets(C::update(C::INIT, frame));
    let mut out = vec![0; F::max_encoded_len(frame.len() + C::LEN)];
    let len = framing.encode(&[frame, &fcs[..C::LEN]], lead, &mut out).unwrap();
    out.truncate(len);
    out
}

/// An octet of any kind, more often one that matters to a framing.
fn octet() -> impl Strategy<Value = u8> {
    let special =
        vec![0, 1, 0xFF, 0x7E, 0x7D, 0x5E, 0x5D, 0xC0, 0xDB, 0xDC, 0xDD, 0x03, 0x11, 0x13, 0x0D, 0x0A];
    prop_oneof![4 => any::<u8>(), 2 => prop::sample::select(special), 2 => 0x20..0x7F_u8]
}

fn octets(len: impl Into<proptest::collection::SizeRange>) -> impl Strategy<Value = Vec<u8>> {
    proptest::collection::vec(octet(), len)
}

fn text(len: impl Into<proptest::collection::SizeRange>) -> impl Strategy<Value = Vec<u8>> {
    let octet = prop_oneof![
        6 => 0x20..0x7E_u8, // all but the delimiter of octet stuffing
        2 => Just(b'}'),
        1 => prop::sample::select(vec![0x07, 0x08, 0x09, 0x0A, 0x0B, 0x0C, 0x0D, 0x1B]),
    ];
    proptest::collection::vec(octet, len)
}

/// What can lie on a line, before it is framed.
#[derive(Debug, Clone)]
enum Piece {
    Frame(Vec<u8>, bool),
    Damaged(Vec<u8>, usize),
    Cut(Vec<u8>),
    Text(Vec<u8>),
    Garbage(Vec<u8>),
    Delimiter,
}

fn piece() -> impl Strategy<Value = Piece> {
    let text_frame = text(3..60); // the wire image of a frame may look like text
    prop_oneof![
        (octets(1..60), any::<bool>()).prop_map(|(frame, lead)| Piece::Frame(frame, lead)),
        (text_frame, any::<bool>()).prop_map(|(frame, lead)| Piece::Frame(frame, lead)),
        (octets(1..30), any::<usize>()).prop_map(|(frame, at)| Piece::Damaged(frame, at)),
        octets(1..30).prop_map(Piece::Cut),
        text(1..90).prop_map(Piece::Text),
        octets(1..40).prop_map(Piece::Garbage),
        Just(Piece::Delimiter),
    ]
}

/// The line as it looks with this framing.
fn line<F: Framing, C: Fcs>(framing: &F, pieces: &[Piece]) -> Vec<u8> {
    let lead = |open: bool| if open { Lead::Delimiter } else { Lead::BackToBack };
    let mut stream = Vec::new();
    for piece in pieces {
        match piece {
            Piece::Frame(frame, open) => stream.extend(wire::<F, C>(framing, frame, lead(*open))),
            Piece::Damaged(frame, at) => {
                let mut wire = wire::<F, C>(framing, frame, Lead::Delimiter);
                let at = at % wire.len();
                wire[at] ^= 0x10;
                stream.extend(wire);
            }
            Piece::Cut(frame) => {
                let wire = wire::<F, C>(framing, frame, Lead::Delimiter);
                stream.extend(&wire[..wire.len() / 2]);
            }
            Piece::Text(octets) | Piece::Garbage(octets) => stream.extend(octets),
            Piece::Delimiter => stream.extend(F::DELIMITER),
        }
    }
    stream
}

/// The same stream in pieces of the given lengths, over and over.
fn cut<'a>(stream: &'a [u8], lens: &'a [usize]) -> Box<dyn Iterator<Item = &'a [u8]> + 'a> {
    let mut rest = stream;
    Box::new(lens.iter().cycle().map_while(move |&len| {
        let (piece, after) = rest.split_at(len.min(rest.len()));
        rest = after;
        (!piece.is_empty()).then_some(piece)
    }))
}

fn any_cut<F: Framing, C: Fcs>(framing: &F, pieces: &[Piece], lens: &[usize], room: usize) {
    let stream = line::<F, C>(framing, pieces);
    let whole = read::<F, C>(framing, [&stream[..]], room);
    assert_eq!(read::<F, C>(framing, cut(&stream, &[1]), room), whole, "octet by octet");
    assert_eq!(read::<F, C>(framing, cut(&stream, lens), room), whole, "cut");
}

/// A second decoder, written for the test from the wire text alone: it sees one whole candidate.
type Oracle<'a> = &'a dyn Fn(&[u8]) -> Result<Vec<u8>, Reject>;

fn same_as_oracle<F: Framing, C: Fcs>(framing: &F, pieces: &[Piece], oracle: Oracle<'_>) {
    let mut stream = line::<F, C>(framing, pieces);
    stream.extend(F::DELIMITER);
    let mut wanted = Vec::new();
    for candidate in
        stream.split(|&octet| Some(octet) == F::DELIMITER).filter(|candidate| !candidate.is_empty())
    {
        let plain = oracle(candidate).and_then(|mut frame| {
            let min = if C::LEN == 2 { 4 } else { 5 };
            if frame.len() < min {
                return Err(Reject::TooShort);
            }
            if C::update(C::INIT, &frame) != C::RESIDUE {
                return Err(Reject::BadFcs);
            }
            frame.truncate(frame.len() - C::LEN);
            Ok(frame)
        });
        let is_text = candidate.iter().all(|&octet| matches!(octet, 0x07..=0x0D | 0x1B | 0x20..=0x7E));
        wanted.push(match plain {
            Ok(frame) => Found::Frame(frame),
            Err(_) if is_text => Found::Text(candidate.to_vec()),
            Err(reject) => Found::Refused(reject, Vec::new()),
        });
    }
    let mut found = read::<F, C>(framing, [&stream[..]], stream.len());
    for found in &mut found {
        if let Found::Refused(_, octets) = found {
            octets.clear();
        }
    }
    assert_eq!(found, wanted);
}

fn cobs_oracle(candidate: &[u8]) -> Result<Vec<u8>, Reject> {
    let mut frame = Vec::new();
    let mut codes = Vec::new();
    let mut at = 0;
    while at < candidate.len() {
        let code = usize::from(candidate[at]);
        if at + code > candidate.len() {
            return Err(Reject::BrokenCode);
        }
        frame.extend(&candidate[at + 1..at + code]);
        if code < 255 {
            frame.push(0);
        }
        codes.push(code);
        at += code;
    }
    if codes.ends_with(&[255, 1]) {
        return Err(Reject::NotCanonical);
    }
    if codes.last() != Some(&255) {
        frame.pop();
    }
    Ok(frame)
}

fn stuffing_oracle(map: ControlMap, candidate: &[u8]) -> Result<Vec<u8>, Reject> {
    let mut frame = Vec::new();
    let mut octets = candidate.iter();
    while let Some(&octet) = octets.next() {
        if octet == 0x7D {
            frame.push(octets.next().ok_or(Reject::Aborted)? ^ 0x20);
        } else if octet >= 32 || map.0 & (1 << octet) == 0 {
            frame.push(octet);
        }
    }
    Ok(frame)
}

fn slip_oracle(candidate: &[u8]) -> Result<Vec<u8>, Reject> {
    let mut frame = Vec::new();
    let mut octets = candidate.iter();
    while let Some(&octet) = octets.next() {
        frame.push(match octet {
            0xDB => match octets.next() {
                Some(0xDC) => 0xC0,
                Some(0xDD) => 0xDB,
                _ => return Err(Reject::BadEscape),
            },
            plain => plain,
        });
    }
    Ok(frame)
}

fn comes_back<F: Framing, C: Fcs>(framing: &F, frame: &[u8], garbage: &[u8]) {
    let mut stream = garbage.to_vec();
    stream.extend(wire::<F, C>(framing, frame, Lead::Delimiter));
    stream.extend(wire::<F, C>(framing, frame, Lead::BackToBack));
    let found = read::<F, C>(framing, [&stream[..]], frame.len() + C::LEN + 6);
    let wanted = Found::Frame(frame.to_vec());
    assert!(found.ends_with(&[wanted.clone(), wanted]), "{found:02X?}");
}

/// Text between delimiters comes out exactly as it came, in whatever pieces.
fn text_comes_out<F: Framing>(framing: &F, text: &[u8], lens: &[usize], room: usize) {
    let mut stream = Vec::from_iter(F::DELIMITER);
    stream.extend(text);
    stream.extend(F::DELIMITER);
    let mut out = Vec::new();
    for found in read::<F, Fcs32>(framing, cut(&stream, lens), room) {
        match found {
            Found::Text(piece) => out.extend(piece),
            other => panic!("{other:02X?}"),
        }
    }
    assert_eq!(out, text);
}

proptest! {
    /// P1: after any garbage the next intact frame decodes.
    #[test]
    fn a_frame_comes_back_after_any_garbage(frame in octets(3..1030), garbage in octets(0..80), map: u32) {
        comes_back::<_, Fcs16>(&Cobs, &frame, &garbage);
        comes_back::<_, Fcs32>(&Cobs, &frame, &garbage);
        comes_back::<_, Fcs16>(&OctetStuffing::new(ControlMap(map)), &frame, &garbage);
        comes_back::<_, Fcs32>(&OctetStuffing::console_safe(), &frame, &garbage);
        comes_back::<_, Fcs16>(&Slip, &frame, &garbage);
        comes_back::<_, Fcs32>(&Slip, &frame, &garbage);
    }

    #[test]
    fn any_cut_of_a_stream_decodes_alike(
        pieces in proptest::collection::vec(piece(), 1..12),
        lens in proptest::collection::vec(1_usize..50, 1..6),
        room in 1_usize..80,
        map: u32,
    ) {
        any_cut::<_, Fcs16>(&Cobs, &pieces, &lens, room);
        any_cut::<_, Fcs16>(&OctetStuffing::new(ControlMap(map)), &pieces, &lens, room);
        any_cut::<_, Fcs32>(&OctetStuffing::console_safe(), &pieces, &lens, room);
        any_cut::<_, Fcs16>(&Slip, &pieces, &lens, room);
    }

    #[test]
    fn candidates_are_judged_as_by_a_second_decoder(pieces in proptest::collection::vec(piece(), 1..12), map: u32) {
        same_as_oracle::<_, Fcs16>(&Cobs, &pieces, &cobs_oracle);
        same_as_oracle::<_, Fcs32>(&Cobs, &pieces, &cobs_oracle);
        same_as_oracle::<_, Fcs16>(&Slip, &pieces, &slip_oracle);
        for map in [ControlMap(map), ControlMap::NONE, ControlMap::CONSOLE_SAFE, ControlMap::ALL] {
            // What is left of a candidate without the octets that the map drops may be nothing: that is silence.
            let drops_all = |octets: &[u8]| !octets.is_empty() && octets.iter().all(|&octet| map.names(octet));
            let stream = line::<_, Fcs16>(&OctetStuffing::new(map), &pieces);
            if !stream.split(|&octet| octet == 0x7E).any(drops_all) {
                same_as_oracle::<_, Fcs16>(&OctetStuffing::new(map), &pieces, &|candidate| stuffing_oracle(map, candidate));
            }
        }
    }

    /// W-9.
    #[test]
    fn foreign_text_comes_out_exactly_as_it_came(
        text in text(1..200),
        lens in proptest::collection::vec(1_usize..50, 1..6),
        room in 1_usize..90,
        map: u32,
    ) {
        text_comes_out(&Cobs, &text, &lens, room);
        text_comes_out(&OctetStuffing::new(ControlMap(map)), &text, &lens, room);
        text_comes_out(&OctetStuffing::new(ControlMap::ALL), &text, &lens, room);
        text_comes_out(&Slip, &text, &lens, room);
        let whole = read::<_, Fcs32>(&Datagram, [&text[..]], room);
        let pieces: Vec<u8> = whole.into_iter().flat_map(|found| match found {
            Found::Text(piece) => piece,
            other => panic!("{other:02X?}"),
        }).collect();
        prop_assert_eq!(pieces, text);
    }
}

/// A stream of one octet, with and without delimiters between, through the whole reader.
fn makes_no_frame<F: Framing, C: Fcs>(framing: F, fill: u8) {
    use crate::frame::{Read, Reader};
    let mut reader = Reader::<F, C, 1040>::new(framing);
    let mut stream = vec![fill; 5_000];
    for len in 0..300 {
        stream.extend(F::DELIMITER);
        stream.extend(vec![fill; len]);
    }
    stream.extend(F::DELIMITER);
    let mut rest = &stream[..];
    while !rest.is_empty() {
        let (consumed, read) = reader.feed(rest);
        assert!(!matches!(read, Some(Read::Frame(_))), "{read:02X?}");
        rest = &rest[consumed..];
    }
}

/// W-12.
#[test]
fn an_all_zero_or_all_ones_line_never_makes_a_frame() {
    for fill in [0x00, 0xFF] {
        makes_no_frame::<_, Fcs16>(Cobs, fill);
        makes_no_frame::<_, Fcs32>(Cobs, fill);
        makes_no_frame::<_, Fcs16>(OctetStuffing::default(), fill);
        makes_no_frame::<_, Fcs32>(OctetStuffing::console_safe(), fill);
        makes_no_frame::<_, Fcs16>(Slip, fill);
        makes_no_frame::<_, Fcs32>(Slip, fill);
        for len in 0..1100 {
            let mut reader = crate::frame::Reader::<Datagram, Fcs16, 1040>::new(Datagram);
            let octets = vec![fill; len];
            let (_, read) = reader.feed(&octets);
            assert!(!matches!(read, Some(crate::frame::Read::Frame(_))), "{len} octets");
        }
    }
}

/// W-8: refused once, as soon as it cannot fit, and skipped to the delimiter; the next frame is whole.
#[test]
fn a_candidate_longer_than_the_buffer_is_refused_once() {
    fn check<F: Framing>(framing: &F) {
        let mut stream = wire::<F, Fcs16>(framing, &[0x80; 200], Lead::Delimiter);
        stream.extend(wire::<F, Fcs16>(framing, &[0x80; 20], Lead::BackToBack));
        let found = read::<F, Fcs16>(framing, [&stream[..]], 32);
        assert!(
            matches!(&found[..], [Found::Refused(Reject::TooLong, octets), Found::Frame(frame)]
                if octets.len() == 32 && frame.len() == 20),
            "{found:02X?}"
        );
    }
    check(&Cobs);
    check(&OctetStuffing::default());
    check(&Slip);
    let long = [0x80; 33];
    assert_eq!(
        read::<_, Fcs16>(&Datagram, [&long[..]], 32),
        [Found::Refused(Reject::TooLong, vec![0x80; 32])]
    );
}
