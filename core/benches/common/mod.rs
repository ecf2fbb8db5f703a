//! What both benchmarks share: the data, the contenders and what they do once.
#![allow(dead_code, unreachable_pub, clippy::cast_possible_truncation)]

use bellwire::{
    fcs::{Fcs, Fcs16},
    frame::{Header, Kind, Read, Reader, write},
    framing::{Cobs, Framing, Lead, Step, cobs as own},
};

/// Five kinds of data. Random data flatters every coder; `telem` is what boards send.
pub const KINDS: [&str; 5] = ["zero", "random", "nozero", "ascii", "telem"];

/// Sizes of the COBS rows.
pub const SIZES: [usize; 3] = [16, 64, 254];

/// A small generator (xorshift64*, Marsaglia 2003 and Vigna 2016) with a fixed seed: the counts must repeat.
struct Random(u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_F491_4F6C_DD1D)
    }

    fn below(&mut self, bound: u64) -> u64 {
        (self.next() >> 11) % bound
    }
}

/// `count` different payloads of `size` octets.
pub fn payloads(kind: &str, size: usize, count: usize) -> Vec<Vec<u8>> {
    let mut random = Random(0x0B5E_55ED_0BE1_1317);
    let mut time = 70_000_u32;
    (0..count)
        .map(|_| {
            let mut octets = Vec::with_capacity(size + 32);
            while octets.len() < size {
                match kind {
                    "zero" => octets.push(0),
                    "random" => octets.push(random.below(256) as u8),
                    "nozero" => octets.push(1 + random.below(255) as u8),
                    "ascii" => octets.push(b' ' + random.below(95) as u8),
                    _ => telemetry(&mut octets, &mut time, &mut random),
                }
            }
            octets.truncate(size);
            octets
        })
        .collect()
}

/// Packed little-endian telemetry: a time in ms (u32), three i16, an f32, a flag octet and a pad octet: 28 % of it zero.
fn telemetry(octets: &mut Vec<u8>, time: &mut u32, random: &mut Random) {
    *time += 10 + random.below(3) as u32;
    octets.extend(time.to_le_bytes());
    for _ in 0..3 {
        octets.extend((random.below(600) as i16 - 150).to_le_bytes());
    }
    octets.extend((random.below(400) as f32 / 16.0).to_le_bytes());
    octets.extend([random.below(4) as u8, 0]);
}

/// An FCS that finds everything right, to measure a decoder alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
struct NoFcs;

impl Fcs for NoFcs {
    const LEN: usize = 2;
    const NAME: &'static str = "none";
    const INIT: u32 = 0;
    const RESIDUE: u32 = 0;
    #[inline]
    fn update(state: u32, _: &[u8]) -> u32 {
        state
    }
    fn octets(_: u32) -> [u8; 4] {
        [0; 4]
    }
}

fn header(number: u8) -> Header {
    let mut header = Header::new(Kind::SetPoint);
    header.number = number;
    header
}

const CATALOGUE: crc::Crc<u16> = crc::Crc::<u16>::new(&crc::CRC_16_IBM_SDLC);

/// Builds one frame, as the usual crates do it.
fn build_with_crates(number: u8, payload: &[u8], out: &mut [u8]) -> usize {
    let mut frame = [0; 320];
    frame[0] = (Kind::SetPoint as u8) << 5;
    frame[1] = number;
    let len = 2 + payload.len();
    frame[2..len].copy_from_slice(payload);
    let fcs = CATALOGUE.checksum(&frame[..len]).to_le_bytes();
    frame[len..len + 2].copy_from_slice(&fcs);
    let len = cobs::encode(&frame[..len + 2], out);
    out[len] = 0;
    len + 1
}

fn check_with_crates(wire: &[u8], out: &mut [u8]) -> usize {
    let Ok(report) = cobs::decode(&wire[..wire.len() - 1], out) else { return 0 };
    let Some((frame, fcs)) = out[..report.frame_size()].split_last_chunk::<2>() else { return 0 };
    if CATALOGUE.checksum(frame) == u16::from_le_bytes(*fcs) { frame.len() } else { 0 }
}

/// One frame on the wire, closed by a delimiter.
fn wire(number: u8, payload: &[u8]) -> Vec<u8> {
    let mut out = [0; 320];
    let len = write::<_, Fcs16>(&Cobs, &header(number), payload, Lead::BackToBack, &mut out).unwrap();
    out[..len].to_vec()
}

/// A recording of `count` frames of 4 to 32 octets of telemetry back to back, one in a thousand damaged.
pub fn recording(count: usize) -> Vec<u8> {
    let mut random = Random(0x5EED);
    let mut stream = Vec::new();
    for (at, payload) in payloads("telem", 32, count).iter().enumerate() {
        let len = 4 + random.below(29) as usize;
        let start = stream.len();
        let mut payload = payload[..len].to_vec();
        payload[0] &= 0x7F; // a message number of one octet
        stream.extend(wire(at as u8, &payload));
        if random.below(1000) == 0 {
            stream[start + 2] ^= 0x40;
        }
    }
    stream
}

/// Frames in a recording.
pub fn count(recording: &[u8]) -> usize {
    let mut reader = Reader::<Cobs, Fcs16, 320>::new(Cobs);
    let (mut rest, mut good) = (recording, 0);
    loop {
        let (consumed, read) = reader.feed(rest);
        rest = &rest[consumed..];
        match read {
            Some(Read::Frame(_)) => good += 1,
            Some(_) => {}
            None => return good,
        }
    }
}

/// As [`count`], with the usual crates.
pub fn count_with_crates(recording: &[u8]) -> usize {
    let (mut out, mut good) = ([0; 320], 0);
    for candidate in recording.split_inclusive(|&octet| octet == 0) {
        good += usize::from(check_with_crates(candidate, &mut out) > 0);
    }
    good
}

fn encoded(payload: &[u8]) -> Vec<u8> {
    let mut out = [0; 320];
    let len = own::encode(&[payload], &mut out).unwrap();
    out[..len].to_vec()
}

/// A contender that works on one payload or one wire frame at a time; gives a length, so that nothing is optimised away.
pub type Contender = Box<dyn FnMut(&[u8]) -> usize>;

/// A contender by name and the inputs it takes, made from payloads.
pub fn contender(name: &str, payloads: &[Vec<u8>]) -> (Contender, Vec<Vec<u8>>) {
    match name {
        "empty" => (Box::new(|input| input.len()), payloads.to_vec()),
        _ if name.starts_with("push") => (pusher(name), wires(payloads)),
        _ if name.starts_with("build") || name.starts_with("check") => whole(name, payloads),
        _ => coder(name, payloads),
    }
}

fn wires(payloads: &[Vec<u8>]) -> Vec<Vec<u8>> {
    payloads.iter().map(|payload| wire(7, payload)).collect()
}

/// Builds or checks a whole frame.
fn whole(name: &str, payloads: &[Vec<u8>]) -> (Contender, Vec<Vec<u8>>) {
    let mut out = [0; 320];
    let mut number = 0_u8;
    let plain = || payloads.to_vec();
    let frames = || wires(payloads);
    match name {
        "build" => (
            Box::new(move |payload| {
                number = number.wrapping_add(1);
                write::<_, Fcs16>(&Cobs, &header(number), payload, Lead::BackToBack, &mut out).unwrap_or(0)
            }),
            plain(),
        ),
        "build crates" => (
            Box::new(move |payload| {
                number = number.wrapping_add(1);
                build_with_crates(number, payload, &mut out)
            }),
            plain(),
        ),
        "check" => {
            let mut reader = Reader::<Cobs, Fcs16, 320>::new(Cobs);
            let check = move |wire: &[u8]| match reader.feed(wire) {
                (_, Some(Read::Frame(view))) => view.payload.len(),
                _ => 0,
            };
            (Box::new(check), frames())
        }
        "check crates" => (Box::new(move |wire| check_with_crates(wire, &mut out)), frames()),
        _ => panic!("no contender is called `{name}`"),
    }
}

/// Takes wire octets one at a time.
fn pusher(name: &str) -> Contender {
    let mut out = [0; 320];
    match name {
        "push" => {
            let mut state = <Cobs as Framing>::State::default();
            let push = move |wire: &[u8]| {
                let mut found = 0;
                for octet in wire {
                    let fed = Cobs.feed::<NoFcs>(&mut state, &[std::hint::black_box(*octet)], &mut out);
                    if let Step::Frame { len, .. } = fed.step {
                        found += len;
                    }
                }
                found
            };
            Box::new(push)
        }
        "push cobs" => {
            let push = move |wire: &[u8]| {
                let mut decoder = cobs::CobsDecoder::new(&mut out);
                let mut found = 0;
                for octet in wire {
                    if let Ok(Some(len)) = decoder.feed(*std::hint::black_box(octet)) {
                        found += len;
                    }
                }
                found
            };
            Box::new(push)
        }
        "push corncobs" => {
            let push = move |wire: &[u8]| {
                let mut decoder = corncobs::Decoder::default();
                let mut at = 0;
                for octet in wire {
                    match decoder.advance(*std::hint::black_box(octet)) {
                        Ok(corncobs::DecodeStatus::Append(octet)) => {
                            out[at] = octet;
                            at += 1;
                        }
                        Ok(corncobs::DecodeStatus::Pending) => {}
                        Ok(corncobs::DecodeStatus::Done) | Err(_) => break,
                    }
                }
                at
            };
            Box::new(push)
        }
        _ => panic!("no contender is called `{name}`"),
    }
}

/// Encodes, or decodes into a buffer or in place.
fn coder(name: &str, payloads: &[Vec<u8>]) -> (Contender, Vec<Vec<u8>>) {
    let mut out = [0; 320];
    let plain = || payloads.to_vec();
    let coded = || payloads.iter().map(|payload| encoded(payload)).collect();
    match name {
        "encode" => (Box::new(move |payload| own::encode(&[payload], &mut out).unwrap_or(0)), plain()),
        "encode cobs" => (Box::new(move |payload| cobs::encode(payload, &mut out)), plain()),
        "encode corncobs" => (Box::new(move |payload| corncobs::encode_buf(payload, &mut out)), plain()),
        "decode" => (Box::new(move |coded| own::decode(coded, &mut out).unwrap_or(0)), coded()),
        "decode cobs" => (
            Box::new(move |coded| cobs::decode(coded, &mut out).map_or(0, |report| report.frame_size())),
            coded(),
        ),
        "decode corncobs" => (
            Box::new(move |coded| corncobs::decode_buf(coded, &mut out).unwrap_or(0)),
            payloads.iter().map(|payload| [&encoded(payload)[..], &[0]].concat()).collect(),
        ),
        "in place" => (
            Box::new(move |coded| {
                let room = &mut out[..coded.len()];
                room.copy_from_slice(coded);
                own::decode_in_place(room).map_or(0, |range| range.len())
            }),
            coded(),
        ),
        "in place cobs" => (
            Box::new(move |coded| {
                let room = &mut out[..coded.len()];
                room.copy_from_slice(coded);
                cobs::decode_in_place(room).unwrap_or(0)
            }),
            coded(),
        ),
        "in place corncobs" => (
            Box::new(move |coded| {
                let room = &mut out[..coded.len()];
                room.copy_from_slice(coded);
                corncobs::decode_in_place(room).unwrap_or(0)
            }),
            payloads.iter().map(|payload| [&encoded(payload)[..], &[0]].concat()).collect(),
        ),
        _ => panic!("no contender is called `{name}`"),
    }
}
