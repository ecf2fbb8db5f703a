//! The naive version of a receiver, straight from WIRE.md sections 1 and 2: whole candidates in vectors, no streaming, FCS by the
//! `crc` crate. Slow and plain; the oracle of the decoders.

use crate::vector::{Find, FramingName, Line, Octets};
use bellwire::frame::{Reject, View};
use crc::{CRC_16_IBM_SDLC, CRC_32_ISO_HDLC, Crc};

/// The FCS of `octets` as it stands on the wire (W-11).
#[must_use]
pub fn fcs(width: u8, octets: &[u8]) -> Vec<u8> {
    if width == 16 {
        Crc::<u16>::new(&CRC_16_IBM_SDLC).checksum(octets).to_le_bytes().to_vec()
    } else {
        Crc::<u32>::new(&CRC_32_ISO_HDLC).checksum(octets).to_le_bytes().to_vec()
    }
}

/// The delimiter of a framing.
#[must_use]
pub const fn delimiter(framing: FramingName) -> Option<u8> {
    match framing {
        FramingName::Cobs => Some(0x00),
        FramingName::OctetStuffing => Some(0x7E),
        FramingName::Slip => Some(0xC0),
        FramingName::Datagram => None,
    }
}

/// All that is found in a stream, which is one datagram on a datagram line.
#[must_use]
pub fn finds(line: Line, stream: &[u8]) -> Vec<Find> {
    match delimiter(line.framing) {
        None => vec![find(line, stream)],
        Some(delimiter) => {
            let mut candidates: Vec<_> = stream.split(|octet| *octet == delimiter).collect();
            candidates.pop();
            candidates
                .iter()
                .filter(|candidate| !is_silence(line, candidate))
                .map(|candidate| find(line, candidate))
                .collect()
        }
    }
}

/// W-2, and W-5: octets that the map names do not count, unless they are text.
fn is_silence(line: Line, candidate: &[u8]) -> bool {
    let dropped =
        |octet: &u8| line.framing == FramingName::OctetStuffing && *octet < 32 && line.map >> octet & 1 == 1;
    candidate.is_empty() || (candidate.iter().all(dropped) && !is_text(candidate))
}

/// W-9.
fn is_text(octets: &[u8]) -> bool {
    octets.iter().all(|octet| matches!(octet, 0x07..=0x0D | 0x1B | 0x20..=0x7E))
}

/// What a candidate is.
#[must_use]
pub fn find(line: Line, candidate: &[u8]) -> Find {
    let checked = unstuff(line, candidate).and_then(|octets| check(line.fcs, &octets));
    match checked {
        Err(_) if is_text(candidate) => Find::Text(Octets(candidate.to_vec())),
        Err(reject) => Find::Reject(reject.name().to_owned()),
        Ok(frame) => match View::parse(&frame, line.framing == FramingName::Datagram) {
            Ok(_) => Find::Frame(Octets(frame)),
            Err(reject) => Find::Reject(reject.name().to_owned()),
        },
    }
}

fn check(width: u8, octets: &[u8]) -> Result<Vec<u8>, Reject> {
    let shortest = if width == 16 { 4 } else { 5 };
    if octets.len() < shortest {
        return Err(Reject::TooShort);
    }
    let (frame, sum) = octets.split_at(octets.len() - usize::from(width / 8));
    if fcs(width, frame) == sum { Ok(frame.to_vec()) } else { Err(Reject::BadFcs) }
}

fn unstuff(line: Line, candidate: &[u8]) -> Result<Vec<u8>, Reject> {
    match line.framing {
        FramingName::Cobs => cobs(candidate),
        FramingName::OctetStuffing => octet_stuffing(line.map, candidate),
        FramingName::Slip => slip(candidate),
        FramingName::Datagram => Ok(candidate.to_vec()),
    }
}

fn cobs(candidate: &[u8]) -> Result<Vec<u8>, Reject> {
    let (mut out, mut rest) = (Vec::new(), candidate);
    while let [code, after @ ..] = rest {
        let len = usize::from(*code) - 1;
        out.extend_from_slice(after.get(..len).ok_or(Reject::BrokenCode)?);
        rest = &after[len..];
        match (code, rest) {
            (0xFF, [0x01]) => return Err(Reject::NotCanonical),
            (0xFF, _) | (_, []) => {}
            _ => out.push(0),
        }
    }
    Ok(out)
}

fn octet_stuffing(map: u32, candidate: &[u8]) -> Result<Vec<u8>, Reject> {
    let (mut out, mut octets) = (Vec::new(), candidate.iter());
    while let Some(octet) = octets.next() {
        match octet {
            0x7D => out.push(octets.next().ok_or(Reject::Aborted)? ^ 0x20),
            0..=31 if map >> octet & 1 == 1 => {}
            _ => out.push(*octet),
        }
    }
    Ok(out)
}

fn slip(candidate: &[u8]) -> Result<Vec<u8>, Reject> {
    let (mut out, mut octets) = (Vec::new(), candidate.iter());
    while let Some(octet) = octets.next() {
        out.push(match octet {
            0xDB => match octets.next() {
                Some(0xDC) => 0xC0,
                Some(0xDD) => 0xDB,
                _ => return Err(Reject::BadEscape),
            },
            _ => *octet,
        });
    }
    Ok(out)
}

/// The candidate that carries `octets`, without delimiters.
#[must_use]
pub fn stuff(line: Line, octets: &[u8]) -> Vec<u8> {
    match line.framing {
        FramingName::Cobs => {
            let mut out = Vec::new();
            let mut blocks = octets.split(|octet| *octet == 0).peekable();
            while let Some(mut block) = blocks.next() {
                while block.len() >= 254 {
                    out.push(0xFF);
                    out.extend_from_slice(&block[..254]);
                    block = &block[254..];
                    if block.is_empty() && blocks.peek().is_none() {
                        return out;
                    }
                }
                out.push(u8::try_from(block.len() + 1).expect("a short block"));
                out.extend_from_slice(block);
            }
            out
        }
        FramingName::OctetStuffing => octets
            .iter()
            .flat_map(|octet| match octet {
                0x7D | 0x7E => vec![0x7D, octet ^ 0x20],
                0..=31 if line.map >> octet & 1 == 1 => vec![0x7D, octet ^ 0x20],
                _ => vec![*octet],
            })
            .collect(),
        FramingName::Slip => octets
            .iter()
            .flat_map(|octet| match octet {
                0xC0 => vec![0xDB, 0xDC],
                0xDB => vec![0xDB, 0xDD],
                _ => vec![*octet],
            })
            .collect(),
        FramingName::Datagram => octets.to_vec(),
    }
}
