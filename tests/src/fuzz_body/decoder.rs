//! Decoders and encoders against the naive version.

use crate::{
    line::{self, ROOM},
    naive,
    vector::{Find, FramingName, Line, Octets, hex},
};
use bellwire::framing::Lead;

/// COBS.
pub fn cobs(data: &[u8]) {
    run(FramingName::Cobs, data);
}

/// Octet stuffing.
pub fn octet_stuffing(data: &[u8]) {
    run(FramingName::OctetStuffing, data);
}

/// SLIP.
pub fn slip(data: &[u8]) {
    run(FramingName::Slip, data);
}

/// Datagrams.
pub fn datagram(data: &[u8]) {
    run(FramingName::Datagram, data);
}

/// The first octet chooses FCS, map and the small buffer, the second the cuts; the rest is a stream, and a frame as well.
fn run(framing: FramingName, data: &[u8]) {
    let [choice, cut, rest @ ..] = data else { return };
    let rest = &rest[..rest.len().min(ROOM - 24)];
    let map = match choice >> 1 & 3 {
        _ if framing != FramingName::OctetStuffing => 0,
        0 => 0,
        1 => 0x000A_0008,
        2 => u32::MAX,
        _ => u32::from(*cut) * 0x0101_0101,
    };
    let line = Line { framing, fcs: if choice & 1 == 0 { 16 } else { 32 }, map, buffer: 0 };
    // The stream ends with a delimiter: a receiver may refuse a candidate before its end comes.
    let stream: Vec<u8> = rest.iter().copied().chain(naive::delimiter(framing)).collect();
    stream_is_found_as_by_the_naive_version(line, &stream, usize::from(*cut) + 1);
    small_buffer_finds_nothing_else(
        Line { buffer: 16 + usize::from(choice >> 3), ..line },
        rest,
        usize::from(*cut) + 1,
    );
    frame_comes_back(line, rest);
}

fn cut(line: Line, stream: &[u8], piece: usize) -> Vec<Find> {
    if line.framing == FramingName::Datagram {
        line::finds(line, [stream])
    } else {
        line::finds(line, stream.chunks(piece))
    }
}

fn stream_is_found_as_by_the_naive_version(line: Line, stream: &[u8], piece: usize) {
    if stream.is_empty() {
        return;
    }
    let wanted = naive::finds(line, stream);
    assert_eq!(line::finds(line, [stream]), wanted, "{line:?}: {}", hex(stream));
    assert_eq!(cut(line, stream, piece), wanted, "{line:?}, {piece} at a time: {}", hex(stream));
}

/// A buffer too small changes a find into "too long" or text in pieces, but makes no frame and damages none.
fn small_buffer_finds_nothing_else(line: Line, stream: &[u8], piece: usize) {
    if stream.is_empty() {
        return;
    }
    let frames = |finds: &[Find]| {
        finds.iter().filter(|find| matches!(find, Find::Frame(_))).cloned().collect::<Vec<_>>()
    };
    let small = line::finds(line, [stream]);
    assert_eq!(cut(line, stream, piece), small, "{line:?}, {piece} at a time: {}", hex(stream));
    let large = frames(&naive::finds(Line { buffer: 0, ..line }, stream));
    let small = frames(&small);
    let mut rest = large.iter();
    assert!(
        small.iter().all(|frame| rest.any(|other| other == frame)),
        "{line:?} made a frame of {}",
        hex(stream)
    );
    // A frame and its FCS within the buffer less the worst stuffing is always found.
    let room = line.buffer - usize::from(line.fcs / 8) - 2;
    let fits = |find: &&Find| matches!(find, Find::Frame(frame) if frame.0.len() <= room);
    assert!(
        large.iter().filter(fits).all(|frame| small.contains(frame)),
        "{line:?} lost a frame of {}",
        hex(stream)
    );
}

fn frame_comes_back(line: Line, frame: &[u8]) {
    let wire = line::encode(line, Lead::Delimiter, frame);
    let with_fcs = [frame, &naive::fcs(line.fcs, frame)].concat();
    let candidate = naive::stuff(line, &with_fcs);
    let Some(delimiter) = naive::delimiter(line.framing) else {
        assert_eq!(hex(&wire), hex(&candidate));
        return;
    };
    let wanted = [&[delimiter], &candidate[..], &[delimiter]].concat();
    assert_eq!(hex(&wire), hex(&wanted), "{line:?}");
    assert!(!candidate.contains(&delimiter));
    for octet in (0..32).filter(|octet| line.map >> octet & 1 == 1) {
        assert!(!wire.contains(&octet), "{octet:#04x} on the wire in spite of the map");
    }
    let found = line::finds(line, [&wire[..]]);
    let expected = naive::find(line, &candidate);
    assert_eq!(found, std::slice::from_ref(&expected));
    if let Find::Frame(Octets(octets)) = expected {
        assert_eq!(hex(&octets), hex(frame));
    }
}
