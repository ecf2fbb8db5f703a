use std::{collections::hash_map::DefaultHasher, vec, vec::Vec};

use super::*;
use crate::{
    fcs::{Fcs16, Fcs32},
    frame::{Ack, Addresses, Header, Kind, max_wire_len, write},
    framing::{Cobs, ControlMap, Datagram, Lead, OctetStuffing, Slip},
};

/// The longest header of an ordered link (unordered ones add the tag).
fn long_header(tag: Option<u16>) -> Header {
    let mut header = Header::new(Kind::Errand);
    header.tag = tag;
    header.addresses = Some(Addresses { to: 0x7E, from: 0x7D });
    header.ack = Some(Ack { next: 0xC0, held: Some(0x7E) });
    header.number = 0xDB;
    header
}

/// A frame with the largest payload for this buffer, filled with one octet, comes back.
fn largest_fits<F: Framing, C: Fcs, const FRAME: usize>(framing: &F, fill: u8) {
    let mut payload = vec![fill; FRAME - 16];
    payload[0] = 0x7D; // a message number of one octet
    let header = long_header((!F::ORDERED).then_some(0x7E7D));
    let mut out = vec![0; max_wire_len::<F, C>(payload.len())];
    let len = write::<F, C>(framing, &header, &payload, Lead::Delimiter, &mut out).unwrap();
    let mut reader = Reader::<F, C, FRAME>::new(framing.clone());
    let (consumed, read) = reader.feed(&out[..len]);
    assert_eq!(consumed, len);
    assert_eq!(read, Some(Read::Frame(View { header, payload: &payload })), "{framing:?}, {FRAME} octets");
    // Exactly what it needs is enough room to write it, and one less is not.
    assert_eq!(write::<F, C>(framing, &header, &payload, Lead::Delimiter, &mut out[..len]), Ok(len));
    assert!(write::<F, C>(framing, &header, &payload, Lead::Delimiter, &mut vec![0; len - 1]).is_err());
}

fn largest_fits_all<const FRAME: usize>() {
    for fill in [0x00, 0x01, 0x55, 0x7E, 0x7D, 0xC0, 0xDB, 0xFF] {
        largest_fits::<_, Fcs16, FRAME>(&Cobs, fill);
        largest_fits::<_, Fcs32, FRAME>(&Cobs, fill);
        largest_fits::<_, Fcs16, FRAME>(&OctetStuffing::new(ControlMap::ALL), fill);
        largest_fits::<_, Fcs32, FRAME>(&OctetStuffing::default(), fill);
        largest_fits::<_, Fcs16, FRAME>(&Slip, fill);
        largest_fits::<_, Fcs32, FRAME>(&Slip, fill);
        largest_fits::<_, Fcs16, FRAME>(&Datagram, fill);
        largest_fits::<_, Fcs32, FRAME>(&Datagram, fill);
    }
}

#[test]
fn a_buffer_takes_every_frame_with_a_payload_of_16_octets_less() {
    largest_fits_all::<48>();
    largest_fits_all::<64>();
    largest_fits_all::<253>();
    largest_fits_all::<270>();
    largest_fits_all::<271>();
    largest_fits_all::<524>();
    largest_fits_all::<1040>();
}

#[test]
fn readers_that_will_do_the_same_are_equal() {
    let hash = |reader: &Reader<Cobs, Fcs16, 64>| {
        let mut hasher = DefaultHasher::new();
        reader.hash(&mut hasher);
        hasher.finish()
    };
    let fresh = Reader::<Cobs, Fcs16, 64>::new(Cobs);
    let mut used = fresh.clone();
    used.feed(&[1, 2, 3]);
    assert_ne!(used, fresh);
    while used.feed(&[0]).1.is_some() {}
    assert_eq!(used, fresh);
    assert_eq!(hash(&used), hash(&fresh));
    used.feed(&[5; 40]);
    used.reset();
    assert_eq!(used, fresh);
}

#[test]
fn every_part_of_a_noisy_stream_is_told() {
    let mut header = Header::new(Kind::Notice);
    header.number = 9;
    let mut frame = [0; 32];
    let len = write::<_, Fcs16>(&Cobs, &header, &[8, 1, 2], Lead::Delimiter, &mut frame).unwrap();
    let mut stream = b"boot ok\r\n".to_vec();
    stream.extend(&frame[..len]);
    let mut damaged = frame[1..len].to_vec();
    damaged[2] ^= 0x80;
    stream.extend(&damaged);
    let reserved = crate::fcs::Fcs16::octets(Fcs16::update(Fcs16::INIT, &[0x01, 0x02]));
    let mut zero_kind = [0; 8];
    let zero_len = Cobs.encode(&[&[1, 2], &reserved[..2]], Lead::BackToBack, &mut zero_kind).unwrap();
    stream.extend(&zero_kind[..zero_len]);

    let mut reader = Reader::<Cobs, Fcs16, 64>::new(Cobs);
    let mut told: Vec<std::string::String> = Vec::new();
    let mut rest = &stream[..];
    loop {
        let (consumed, read) = reader.feed(rest);
        rest = &rest[consumed..];
        match read {
            None => break,
            Some(Read::Frame(view)) => {
                told.push(std::format!("{} {:?}", view.header.kind.name(), view.payload))
            }
            Some(Read::Text(text)) => told.push(std::string::String::from_utf8_lossy(text).into()),
            Some(Read::Refused { reject, octets }) => {
                told.push(std::format!("{reject}, {} octets", octets.len()))
            }
        }
    }
    assert_eq!(
        told,
        [
            "boot ok\r\n",
            "notice [8, 1, 2]",
            "bad FCS (W-11): damaged on the way, 8 octets",
            "reserved kind (W-12): kind 0, or extension 0xFF, 2 octets",
        ]
    );
}
