//! A link on a shared medium: a framing that puts addresses into each frame and lets through only those from the other end (W-15, W-62).

use crate::{
    fcs::Fcs,
    frame::{Head, Kind, MAX_HEADER, Reject},
    framing::{Fed, Framing, Lead, NoRoom, Step},
    rules::holds,
};

/// The control octet's bit that says that addresses follow.
const ADDRESSED: u8 = 1 << 4;

/// The framing `F` on a medium that others share. A [`Link`](crate::link::Link) over it talks with one other board as if the two were alone: on the hub
/// one link for each leaf, at a leaf one link, to the hub.
///
/// Frames of other boards, and its own echo on a half-duplex wire, are skipped without a word: they are traffic, not damage. So are frames without addresses, and
/// those to all. When a link may send is another matter: see [`Turn`](super::Turn) and [`Chance`](super::Chance).
///
/// # Example
/// ```
/// use bellwire::{fcs::Fcs16, framing::Cobs, link::{Config, Link, OwnNumber}, star::Addressed, time::Instant};
///
/// // Leaf 3, which talks with the hub (0).
/// let framing = Addressed { framing: Cobs, own: 3, peer: 0 };
/// let mut leaf: Link<Addressed<Cobs>, Fcs16> = Link::new(framing, Config::uart(115_200, OwnNumber::Random(7)), Instant::from_ticks(0));
/// let mut frame = [0; 80];
/// let len = leaf.poll_transmit(Instant::from_ticks(0), &mut frame).unwrap();
/// // An OPEN with addresses: delimiter, COBS code, control 0x30, to 0 (which COBS leaves out), code of the next four, from 3.
/// assert_eq!(frame[..5], [0x00, 0x02, 0x30, 0x05, 0x03]);
/// # assert_eq!(len, 34);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Addressed<F> {
    /// How frames are told apart.
    pub framing: F,
    /// The own address: 0 the hub, 1..=250 a leaf.
    pub own: u8,
    /// The other end's.
    pub peer: u8,
}

/// Where the addresses of a frame begin; `None` if it has none. `tagged`: an unordered link (W-14).
pub(super) fn addresses_at(control: u8, tagged: bool) -> Option<usize> {
    let tag = tagged && Kind::from_control(control).is_some_and(Kind::in_session);
    (control & ADDRESSED != 0).then_some(if tag { 3 } else { 1 })
}

/// The addresses of a frame in a datagram, *to* and *from*, without checking it: enough for a hub to find the link that it is for. `None` if it has none.
#[must_use]
pub fn addresses_of(datagram: &[u8]) -> Option<crate::frame::Addresses> {
    let at = addresses_at(*datagram.first()?, true)?;
    let &[to, from] = datagram.get(at..)?.first_chunk::<2>()?;
    Some(crate::frame::Addresses { to, from })
}

impl<F: Framing> Addressed<F> {
    /// What the link is to see of a frame in `buffer`; `None` if it is not for it.
    fn strip(&self, buffer: &mut [u8], start: usize, len: usize) -> Option<Step> {
        let frame = buffer.get_mut(start..)?.get_mut(..len)?;
        let at = addresses_at(*frame.first()?, !F::ORDERED)?;
        let &[to, from] = frame.get(at..)?.first_chunk::<2>()?;
        if (251..=254).contains(&to) || from > 250 {
            return Some(Step::Refused { reject: Reject::BadAddress, len: 0 });
        }
        if (to != self.own || from != self.peer) && holds(62) {
            return None;
        }
        // Control and tag move up, onto the addresses.
        for place in (0..at).rev() {
            let octet = *frame.get(place)?;
            *frame.get_mut(place.saturating_add(2))? = if place == 0 { octet & !ADDRESSED } else { octet };
        }
        Some(Step::Frame { start: start.saturating_add(2), len: len.saturating_sub(2) })
    }

    /// As [`feed`](Framing::feed). Of frames that are not for the link those are found too, with addresses and all, that `pass` lets through.
    pub(super) fn feed_and_pass<C: Fcs>(
        &self,
        state: &mut F::State,
        input: &[u8],
        buffer: &mut [u8],
        pass: impl Fn(&[u8]) -> bool,
    ) -> Fed {
        let mut done = 0_usize;
        loop {
            let rest = input.get(done..).unwrap_or(&[]);
            let Fed { consumed, step } = self.framing.feed::<C>(state, rest, buffer);
            done = done.saturating_add(consumed);
            let step = match step {
                Step::Frame { start, len } => match self.strip(buffer, start, len) {
                    Some(step) => step,
                    None if pass(buffer.get(start..).and_then(|rest| rest.get(..len)).unwrap_or(&[])) => step,
                    // Of others: on with what follows it.
                    None if consumed > 0 && done < input.len() => continue,
                    None => Step::More,
                },
                other => other,
            };
            return Fed { consumed: done, step };
        }
    }
}

impl<F: Framing> Framing for Addressed<F> {
    type Order = F::Order;
    const DELIMITER: Option<u8> = F::DELIMITER;
    const EXTRA: usize = F::EXTRA;
    type State = F::State;
    const START: F::State = F::START;

    fn max_encoded_len(frame: usize) -> usize {
        F::max_encoded_len(frame.saturating_add(2))
    }

    /// As the inner framing does it, without addresses: the FCS is among the parts already. Use [`encode_frame`](Framing::encode_frame).
    fn encode(&self, parts: &[&[u8]], lead: Lead, out: &mut [u8]) -> Result<usize, NoRoom> {
        self.framing.encode(parts, lead, out)
    }

    fn encode_frame<C: Fcs>(
        &self,
        head: Head<'_>,
        payload: &[u8],
        lead: Lead,
        out: &mut [u8],
    ) -> Result<usize, NoRoom> {
        let head = head.as_slice();
        let control = head.first().copied().unwrap_or(0) | ADDRESSED;
        let at = addresses_at(control, !F::ORDERED).unwrap_or(1);
        let (before, after) = head.split_at_checked(at).unwrap_or((head, &[]));
        let mut octets = [0; MAX_HEADER];
        let pair = [self.peer, self.own];
        let addressed = before.iter().chain(&pair).chain(after);
        octets.iter_mut().zip(addressed).for_each(|(cell, octet)| *cell = *octet);
        if let Some(first) = octets.first_mut() {
            *first = control;
        }
        let len = head.len().saturating_add(2).min(MAX_HEADER);
        self.framing.encode_frame::<C>(Head { octets: &octets, len }, payload, lead, out)
    }

    fn feed<C: Fcs>(&self, state: &mut F::State, input: &[u8], buffer: &mut [u8]) -> Fed {
        self.feed_and_pass::<C>(state, input, buffer, |_| false)
    }

    fn held(&self, state: &F::State) -> usize {
        self.framing.held(state)
    }

    fn pending_text(&self, state: &F::State, buffer: &[u8]) -> usize {
        self.framing.pending_text(state, buffer)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        fcs::Fcs16,
        frame::{Ack, Addresses, Header, Read, Reader, write},
        framing::{Cobs, Datagram},
    };
    use std::{vec, vec::Vec};

    fn header(tagged: bool, kind: Kind) -> Header {
        let ack = kind.in_session().then_some(Ack { next: 9, held: Some(3) });
        let extension = (kind == Kind::Extended).then_some(crate::frame::Extension::Probe);
        let tag = (tagged && kind.in_session()).then_some(0xABCD);
        let session = if kind.in_session() { 2 } else { 0 };
        let number = if kind.is_numbered() { 77 } else { 0 };
        Header { session, tag, ack, extension, number, ..Header::new(kind) }
    }

    fn encode<F: Framing>(framing: &F, header: &Header, payload: &[u8]) -> Vec<u8> {
        let mut out = [0; 64];
        let len = write::<F, Fcs16>(framing, header, payload, Lead::Delimiter, &mut out).expect("room");
        out[..len].to_vec()
    }

    /// What a reader finds; `None` for nothing.
    fn finds<F: Framing>(framing: &F, wire: &[u8]) -> Vec<Result<(Header, Vec<u8>), Reject>> {
        let mut reader = Reader::<F, Fcs16, 64>::new(framing.clone());
        let (mut at, mut found) = (0, vec![]);
        while at < wire.len() {
            let (consumed, read) = reader.feed(&wire[at..]);
            at += consumed;
            found.extend(read.map(|read| match read {
                Read::Frame(view) => Ok((view.header, view.payload.to_vec())),
                Read::Refused { reject, .. } => Err(reject),
                Read::Text(_) => panic!("no text"),
            }));
        }
        found
    }

    /// The independent way: the plain framing with a header that has addresses, as W-15 puts them.
    fn same_as_the_header_with_addresses<F: Framing>(plain: F) {
        for kind in Kind::ALL.into_iter().filter(|kind| *kind != Kind::Open) {
            let header = header(!F::ORDERED, kind);
            let payload: &[u8] = if kind == Kind::Ack { &[] } else { &[5, 0, 7] };
            for (own, peer) in [(3, 0), (0, 250)] {
                let leaf = Addressed { framing: plain.clone(), own, peer };
                let wire = encode(&leaf, &header, payload);
                let addresses = Some(Addresses { to: peer, from: own });
                assert_eq!(wire, encode(&plain, &Header { addresses, ..header }, payload), "{kind:?}");
                // The other end sees it as if there were none, a third one sees nothing, and so does its sender: an echo.
                let far = Addressed { framing: plain.clone(), own: peer, peer: own };
                assert_eq!(finds(&far, &wire), [Ok((header, payload.to_vec()))], "{kind:?}");
                assert_eq!(finds(&Addressed { own: 4, ..far.clone() }, &wire), []);
                assert_eq!(finds(&Addressed { peer: 4, ..far.clone() }, &wire), []);
                assert_eq!(finds(&leaf, &wire), []);
            }
            let far = Addressed { framing: plain.clone(), own: 0, peer: 3 };
            for (to, from, wanted) in [
                (255, 3, vec![]),
                (251, 3, vec![Err(Reject::BadAddress)]),
                (0, 255, vec![Err(Reject::BadAddress)]),
                (0, 250, vec![]),
            ] {
                let addresses = Some(Addresses { to, from });
                assert_eq!(finds(&far, &encode(&plain, &Header { addresses, ..header }, payload)), wanted);
            }
            assert_eq!(finds(&far, &encode(&plain, &header, payload)), [], "no addresses");
        }
    }

    #[test]
    fn frames_carry_the_addresses_of_w15_and_reach_only_their_link() {
        same_as_the_header_with_addresses(Cobs);
        same_as_the_header_with_addresses(Datagram);
    }

    #[test]
    fn a_frame_between_those_of_others_is_found_and_damage_is_still_told() {
        let to_us = Addressed { framing: Cobs, own: 3, peer: 0 };
        let from = |to| Addressed { framing: Cobs, own: 0, peer: to };
        let header = header(false, Kind::Errand);
        let frame = |to| encode(&from(to), &header, &[to]);
        let mut damaged = frame(3);
        damaged[6] ^= 4;
        let wire = [frame(1), frame(2), frame(3), frame(4), damaged, frame(3), frame(5)].concat();
        let ours = Ok((header, vec![3]));
        assert_eq!(finds(&to_us, &wire), [ours.clone(), Err(Reject::BadFcs), ours]);
    }

    /// What the inner framing says of its room and of what it holds, with two octets for the addresses.
    #[test]
    fn room_and_what_is_held_are_those_of_the_inner_framing() {
        for frame in [0, 1, 16, 252, 253, 300] {
            assert_eq!(Addressed::<Cobs>::max_encoded_len(frame), Cobs::max_encoded_len(frame + 2));
        }
        let framing = Addressed { framing: Cobs, own: 3, peer: 0 };
        let (mut state, mut buffer) = (Addressed::<Cobs>::START, [0; 64]);
        framing.feed::<Fcs16>(&mut state, b"dome ready", &mut buffer);
        assert_eq!((framing.held(&state), framing.pending_text(&state, &buffer)), (10, 10));
        let (mut out, mut plain) = ([0; 16], [0; 16]);
        let len = framing.encode(&[b"dome"], Lead::Delimiter, &mut out).unwrap();
        assert_eq!(Cobs.encode(&[b"dome"], Lead::Delimiter, &mut plain), Ok(len));
        assert_eq!(out, plain);
    }

    /// A link that is fed all at once is given every frame for it by its own count of octets, and nothing is fed twice.
    #[test]
    fn frames_of_others_are_passed_over_within_one_piece() {
        let to_us = Addressed { framing: Cobs, own: 3, peer: 0 };
        let header = header(false, Kind::Errand);
        let frame = |to| encode(&Addressed { framing: Cobs, own: 0, peer: to }, &header, &[to]);
        let wire = [frame(1), frame(2), frame(3)].concat();
        let (mut state, mut buffer) = (Addressed::<Cobs>::START, [0; 64]);
        let fed = to_us.feed::<Fcs16>(&mut state, &wire, &mut buffer);
        assert!(matches!(fed.step, Step::Frame { .. }), "in one call: {fed:?}");
        assert_eq!(fed.consumed, wire.len());
        let others = [frame(1), frame(2)].concat();
        let fed = to_us.feed::<Fcs16>(&mut Addressed::<Cobs>::START.clone(), &others, &mut buffer);
        assert_eq!((fed.consumed, fed.step), (others.len(), Step::More));
    }

    #[test]
    fn a_hub_finds_the_addresses_of_a_datagram_without_decoding_it() {
        for kind in [Kind::Errand, Kind::Ack, Kind::Extended] {
            let leaf = Addressed { framing: Datagram, own: 3, peer: 0 };
            let payload: &[u8] = if kind == Kind::Ack { &[] } else { &[5, 0, 7] };
            let wire = encode(&leaf, &header(true, kind), payload);
            assert_eq!(addresses_of(&wire), Some(Addresses { to: 0, from: 3 }));
            assert_eq!(addresses_of(&wire[..2]), None);
        }
        assert_eq!((addresses_of(&[]), addresses_of(&[0x41, 1, 2, 3, 4])), (None, None));
    }
}
