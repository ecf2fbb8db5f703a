//! Files to frames with general-purpose crates.

use std::{
    fs::File,
    io::{self, Read},
    path::Path,
};

/// A frame that passed its FCS: control octet, sequence number, message number, payload.
pub struct Frame<'a> {
    pub place: u64,
    pub wire: usize,
    pub control: u8,
    pub number: u8,
    pub payload: &'a [u8],
}

pub type Sink<'s> = dyn FnMut(&Frame<'_>) -> io::Result<()> + 's;

/// Octets read at a time; more is not faster.
const PIECE: usize = 1 << 18;

fn pieces(file: &Path, mut each: impl FnMut(&[u8]) -> io::Result<()>) -> io::Result<()> {
    let mut file = File::open(file)?;
    let mut buffer = vec![0; PIECE];
    loop {
        let len = file.read(&mut buffer)?;
        if len == 0 {
            return Ok(());
        }
        each(&buffer[..len])?;
    }
}

fn hand_over(place: u64, wire: usize, frame: &[u8], sink: &mut Sink<'_>) -> io::Result<()> {
    let [control, number, payload @ ..] = frame else { return Ok(()) };
    sink(&Frame { place, wire, control: *control, number: *number, payload })
}

/// One octet at a time: `cobs::CobsDecoder` and `crc` with its default table.
pub fn naive(file: &Path, sink: &mut Sink<'_>) -> io::Result<u64> {
    const CRC: crc::Crc<u16> = crc::Crc::<u16>::new(&crc::CRC_16_IBM_SDLC);
    let (mut frames, mut place, mut wire) = (0, 0, 0);
    let mut buffer = [0; 2048];
    let mut decoder = cobs::CobsDecoder::new(&mut buffer);
    let mut frame = Vec::new();
    pieces(file, |octets| {
        for &octet in octets {
            wire += 1;
            let len = match decoder.feed(octet) {
                Ok(None) => continue,
                Ok(Some(len)) => len,
                Err(_) => 0,
            };
            frame.clear();
            frame.extend_from_slice(&decoder.dest()[..len]);
            if let Some((frame, fcs)) = frame.split_last_chunk::<2>()
                && CRC.checksum(frame) == u16::from_le_bytes(*fcs)
            {
                frames += 1;
                hand_over(place, wire, frame, sink)?;
            }
            place += wire as u64;
            wire = 0;
        }
        Ok(())
    })?;
    Ok(frames)
}

/// The best mix of crates: `memchr` to find the delimiters, `corncobs` to decode, `crc` with its largest table.
pub fn usual(file: &Path, sink: &mut Sink<'_>) -> io::Result<u64> {
    const CRC: crc::Crc<u16, crc::Table<16>> = crc::Crc::<u16, crc::Table<16>>::new(&crc::CRC_16_IBM_SDLC);
    let (mut frames, mut place) = (0, 0);
    let mut carry: Vec<u8> = Vec::new();
    let mut out = [0; 2048];
    let mut one = |candidate: &[u8]| -> io::Result<()> {
        if candidate.len() <= out.len()
            && let Ok(len) = corncobs::decode_buf(candidate, &mut out)
            && let Some((frame, fcs)) = out[..len].split_last_chunk::<2>()
            && CRC.checksum(frame) == u16::from_le_bytes(*fcs)
        {
            frames += 1;
            hand_over(place, candidate.len(), frame, sink)?;
        }
        place += candidate.len() as u64;
        Ok(())
    };
    pieces(file, |octets| {
        let mut from = 0;
        for delimiter in memchr::memchr_iter(0, octets) {
            if carry.is_empty() {
                one(&octets[from..=delimiter])?;
            } else {
                carry.extend_from_slice(&octets[from..=delimiter]);
                one(&carry)?;
                carry.clear();
            }
            from = delimiter + 1;
        }
        carry.extend_from_slice(&octets[from..]);
        Ok(())
    })?;
    Ok(frames)
}
