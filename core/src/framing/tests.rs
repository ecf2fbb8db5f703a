//! Properties that every framing keeps.

use std::{vec, vec::Vec};

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
fn read<F: Framing, C: Fcs>(framing: &F, chunks: &[&[u8]], room: usize) -> Vec<Found> {
    let mut state = F::State::default();
    let mut buffer = vec![0; room];
    let mut all = Vec::new();
    for chunk in chunks {
        let mut rest = *chunk;
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

/// Octets of all kinds, with many of those that matter to a framing.
fn octets(len: impl Into<proptest::collection::SizeRange>) -> impl Strategy<Value = Vec<u8>> {
    let octet = prop_oneof![
        4 => any::<u8>(),
        2 => prop::sample::select(vec![0x00, 0x01, 0xFF, 0x7E, 0x7D, 0x5E, 0x5D, 0xC0, 0xDB, 0xDC, 0xDD, 0x03, 0x11, 0x13]),
        2 => 0x20..0x7F_u8,
    ];
    proptest::collection::vec(octet, len)
}

fn round_trip<F: Framing, C: Fcs>(framing: &F, frame: &[u8], garbage: &[u8]) {
    let mut stream = garbage.to_vec();
    stream.extend(wire::<F, C>(framing, frame, Lead::Delimiter));
    stream.extend(wire::<F, C>(framing, frame, Lead::BackToBack));
    let found = read::<F, C>(framing, &[&stream], frame.len() + C::LEN + 6);
    assert!(found.ends_with(&[Found::Frame(frame.to_vec()), Found::Frame(frame.to_vec())]), "{found:02X?}");
}

proptest! {
    /// P1: after any garbage the next intact frame decodes.
    #[test]
    fn a_frame_comes_back_after_any_garbage(frame in octets(3..1030), garbage in octets(0..80), map: u32) {
        round_trip::<_, Fcs16>(&Cobs, &frame, &garbage);
        round_trip::<_, Fcs32>(&Cobs, &frame, &garbage);
        round_trip::<_, Fcs16>(&OctetStuffing::new(ControlMap(map)), &frame, &garbage);
        round_trip::<_, Fcs32>(&OctetStuffing::console_safe(), &frame, &garbage);
        round_trip::<_, Fcs16>(&Slip, &frame, &garbage);
        round_trip::<_, Fcs32>(&Slip, &frame, &garbage);
    }
}
