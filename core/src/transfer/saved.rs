//! What a receiver keeps over a restart: 37 octets, versioned and checked.

use super::{Offer, Reason, Receiver, State, message::three, parts::Parts};
use crate::fcs::{Fcs, Fcs16};

/// Octets of a saved state.
pub const SAVED_LEN: usize = 37;

const VERSION: u8 = 1;
const OFFER: usize = 13;

fn write_offer(offer: Option<Offer>) -> [u8; OFFER] {
    let Some(offer) = offer else { return [0; OFFER] };
    let [c0, c1, c2, c3] = offer.crc.to_le_bytes();
    let [s0, s1, s2, s3] = offer.size.to_le_bytes();
    let [p0, p1] = offer.part.to_le_bytes();
    let [t0, t1] = offer.topic.to_le_bytes();
    [offer.number, c0, c1, c2, c3, s0, s1, s2, s3, p0, p1, t0, t1]
}

/// An offer, or none where its size is zero.
fn read_offer(octets: [u8; OFFER]) -> Option<Offer> {
    let [number, c0, c1, c2, c3, s0, s1, s2, s3, p0, p1, t0, t1] = octets;
    let offer = Offer {
        number,
        crc: u32::from_le_bytes([c0, c1, c2, c3]),
        size: u32::from_le_bytes([s0, s1, s2, s3]),
        part: u16::from_le_bytes([p0, p1]),
        topic: u16::from_le_bytes([t0, t1]),
    };
    offer.is_sound().then_some(offer)
}

pub(super) fn write(receiver: &Receiver) -> [u8; SAVED_LEN] {
    let state = match receiver.state {
        State::Idle | State::Offered => 0,
        State::Taking | State::Checking => 1,
        State::Done => 2,
        State::Over(reason) => 16 | reason as u8,
    };
    let offer = receiver.offer.filter(|_| state != 0);
    let mut out = [0; SAVED_LEN];
    let mut cells = out.iter_mut();
    let mut put = |octets: &[u8]| octets.iter().zip(&mut cells).for_each(|(octet, cell)| *cell = *octet);
    put(&[VERSION, state]);
    put(&write_offer(offer));
    put(&three(receiver.parts.base));
    put(&receiver.parts.held.to_le_bytes());
    put(&write_offer(receiver.finished));
    if let Some((body, check)) = out.split_last_chunk_mut::<2>() {
        let [low, high, ..] = Fcs16::octets(Fcs16::update(Fcs16::INIT, body));
        *check = [low, high];
    }
    out
}

pub(super) fn read(mut fresh: Receiver, saved: &[u8]) -> Option<Receiver> {
    let saved: &[u8; SAVED_LEN] = saved.try_into().ok()?;
    if Fcs16::update(Fcs16::INIT, saved) != Fcs16::RESIDUE {
        return None;
    }
    let (&[version, state], rest) = saved.split_first_chunk()?;
    let (&offer, rest) = rest.split_first_chunk::<OFFER>()?;
    let (&[b0, b1, b2], rest) = rest.split_first_chunk()?;
    let (&held, rest) = rest.split_first_chunk::<4>()?;
    let (&finished, _) = rest.split_first_chunk::<OFFER>()?;
    if version != VERSION {
        return None;
    }
    fresh.finished = read_offer(finished);
    fresh.offer = read_offer(offer);
    let parts = Parts { base: u32::from_le_bytes([b0, b1, b2, 0]), held: u32::from_le_bytes(held) };
    let (state, parts) = match (state, fresh.offer) {
        (0, None) => (State::Idle, Parts::default()),
        (1, Some(offer)) if parts.base == offer.parts() && parts.held == 0 => (State::Checking, parts),
        (1, Some(offer)) if parts.end() <= offer.parts() => (State::Taking, parts),
        (2, Some(_)) => (State::Done, parts),
        (16..=31, Some(_)) => (State::Over(Reason::from_code(state & 15)), Parts::default()),
        _ => return None,
    };
    (fresh.state, fresh.parts) = (state, parts);
    Some(fresh)
}
