//! Leaves set-points and errands out of a recorded stream and lets everything else pass as it was recorded.

use std::sync::Arc;

use bellwire::{
    frame::{Class, Kind, Open, Read, View},
    framing::Air,
};

use crate::{
    endpoint::{FcsName, FramingName, Wiring},
    messages::Table,
    talk::{Codec, codec},
};

/// No frame is longer on the wire, whatever the framing: more than this without a delimiter passes.
const LONGEST: usize = 4096;

/// What was left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct LeftOut {
    /// Set-points.
    pub(super) set_points: u64,
    /// Errands.
    pub(super) errands: u64,
}

/// One direction of one port.
pub(super) struct Sieve {
    codec: Box<dyn Codec>,
    /// What reads a datagram that a radio board carries, by either FCS.
    datagrams: [Box<dyn Codec>; 2],
    /// The candidate since the last delimiter, as recorded.
    open: Vec<u8>,
    /// Fingerprint that the sender last stated; 0: none.
    stated: u32,
    /// The agreement, if one was given: errands that it knows to move nothing pass.
    table: Option<Arc<Table>>,
    /// The open candidate is too long for a frame and passes as it comes.
    passing: bool,
}

impl Sieve {
    /// A sieve for a stream with this wiring.
    #[must_use]
    pub(super) fn new(wiring: Wiring, table: Option<Arc<Table>>) -> Self {
        // The frames of a radio board's UART are looked into whatever the recording was taken for: the octets are sent as they are.
        let framing = match wiring.framing {
            FramingName::RadioBoard => FramingName::Cobs,
            other => other,
        };
        let fcs = if framing == wiring.framing { wiring.fcs } else { FcsName::Bits16 };
        let datagrams = FcsName::ALL
            .map(|fcs| codec(Wiring { framing: FramingName::Datagram, fcs, ..Wiring::default() }));
        let codec = codec(Wiring { framing, fcs, ..wiring });
        Self { codec, datagrams, open: Vec::new(), stated: 0, table, passing: false }
    }

    /// The octets that may be sent now. A frame passes when its end has come.
    #[must_use]
    pub(super) fn pass(&mut self, octets: &[u8], left_out: &mut LeftOut) -> Vec<u8> {
        let mut out = Vec::with_capacity(octets.len());
        let Some(delimiter) = self.codec.delimiter() else {
            if !self.moves(octets, left_out) {
                out.extend_from_slice(octets);
            }
            return out;
        };
        for piece in octets.split_inclusive(|&octet| octet == delimiter) {
            self.open.extend_from_slice(piece);
            let ends = piece.last() == Some(&delimiter);
            self.passing |= self.open.len() > LONGEST;
            if ends || self.passing {
                let open = std::mem::take(&mut self.open);
                if self.passing || !self.moves(&open, left_out) {
                    out.extend_from_slice(&open);
                }
                self.passing &= !ends;
            }
        }
        out
    }

    /// What is left at the end: no frame, since its delimiter never came.
    #[must_use]
    pub(super) fn rest(&mut self) -> Vec<u8> {
        std::mem::take(&mut self.open)
    }

    fn moves(&mut self, candidate: &[u8], left_out: &mut LeftOut) -> bool {
        let mut moves = false;
        let Self { codec, datagrams, stated, table, .. } = self;
        let table = table.as_deref();
        codec.read(candidate, &mut |read| match read {
            Read::Frame(view) => moves |= is_mover(&view, table, stated, left_out),
            Read::Refused { octets, .. } => {
                let Ok(Air::Send { datagram } | Air::Heard { datagram, .. }) = Air::read(octets) else {
                    return;
                };
                for codec in datagrams.iter_mut() {
                    codec.read(datagram, &mut |read| {
                        if let Read::Frame(view) = read {
                            moves |= is_mover(&view, table, stated, left_out);
                        }
                    });
                }
            }
            Read::Text(_) => {}
        });
        moves
    }
}

/// Whether a frame may move something, and so is left out. `stated` is the fingerprint that its sender last stated.
fn is_mover(view: &View<'_>, table: Option<&Table>, stated: &mut u32, left_out: &mut LeftOut) -> bool {
    let still = |stated| {
        let (kind, _) = table?.of(stated)?.read(Class::Errand, view.payload)?;
        (!kind.moves).then_some(())
    };
    match view.header.kind {
        Kind::Open => {
            if let Ok(open) = Open::parse(view.payload) {
                *stated = open.fingerprint;
            }
            false
        }
        Kind::Errand if still(*stated).is_some() => false,
        Kind::SetPoint => {
            left_out.set_points += 1;
            true
        }
        Kind::Errand => {
            left_out.errands += 1;
            true
        }
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use bellwire::frame::Header;
    use bellwire_tests::seed::seed;
    use proptest::{collection::vec, prelude::*};

    fn wiring(framing: FramingName) -> Wiring {
        Wiring { framing, ..Wiring::default() }
    }

    fn frame(framing: FramingName, kind: Kind, payload: &[u8]) -> Vec<u8> {
        let codec = codec(wiring(framing));
        let tag = framing.is_unordered().then_some(0);
        codec.encode(&codec.frame(&Header { tag, ..Header::new(kind) }, payload))
    }

    /// However a stream is cut, exactly the set-points and errands are gone and all other octets are as recorded.
    #[test]
    fn only_set_points_and_errands_are_left_out() {
        let seed = seed("only_set_points_and_errands_are_left_out");
        let parts = vec((0..5_u8, vec(any::<u8>(), 0..40)), 0..20);
        let framings =
            prop_oneof![Just(FramingName::Cobs), Just(FramingName::OctetStuffing), Just(FramingName::Slip)];
        let result =
            seed.runner(256).run(&(parts, vec(1..30_usize, 1..40), framings), |(parts, cuts, framing)| {
                let delimiter = codec(wiring(framing)).delimiter().unwrap();
                let (mut all, mut wanted, mut wanted_out) = (Vec::new(), Vec::new(), LeftOut::default());
                for (kind, body) in parts {
                    let payload = [&[3], body.as_slice()].concat();
                    let (piece, stays) = match kind {
                        0 => (frame(framing, Kind::SetPoint, &payload), false),
                        1 => (frame(framing, Kind::Errand, &payload), false),
                        2 => (frame(framing, Kind::Report, &payload), true),
                        3 => (frame(framing, Kind::Notice, &payload), true),
                        _ => ([b"login: ", &[delimiter][..]].concat(), true),
                    };
                    wanted_out.set_points += u64::from(kind == 0);
                    wanted_out.errands += u64::from(kind == 1);
                    all.extend(&piece);
                    wanted.extend(if stays { piece } else { [delimiter].to_vec() });
                }
                let (mut sieve, mut passed, mut left_out) =
                    (Sieve::new(wiring(framing), None), Vec::new(), LeftOut::default());
                let (mut rest, mut cuts) = (all.as_slice(), cuts.iter().cycle());
                while !rest.is_empty() {
                    let (piece, more) = rest.split_at((*cuts.next().unwrap()).min(rest.len()));
                    passed.extend(sieve.pass(piece, &mut left_out));
                    rest = more;
                }
                passed.extend(sieve.rest());
                prop_assert_eq!(left_out, wanted_out);
                prop_assert_eq!(passed, wanted);
                Ok(())
            });
        result.unwrap();
    }

    #[test]
    fn datagrams_pass_or_not_as_a_whole() {
        let mut sieve = Sieve::new(wiring(FramingName::Datagram), None);
        let mut left_out = LeftOut::default();
        let notice = frame(FramingName::Datagram, Kind::Notice, &[1, 2]);
        assert_eq!(sieve.pass(&notice, &mut left_out), notice);
        assert!(sieve.pass(&frame(FramingName::Datagram, Kind::SetPoint, &[1, 2]), &mut left_out).is_empty());
        assert_eq!(left_out, LeftOut { set_points: 1, errands: 0 });
    }

    /// What a desk said through its radio board is looked into, also where the recording was taken for plain frames.
    #[test]
    fn datagrams_of_a_radio_board_are_looked_into() {
        let mut left_out = LeftOut::default();
        for framing in [FramingName::RadioBoard, FramingName::Cobs] {
            let mut sieve = Sieve::new(wiring(framing), None);
            let notice = frame(FramingName::RadioBoard, Kind::Notice, &[10, 0]);
            assert_eq!(sieve.pass(&notice, &mut left_out), notice);
            assert_eq!(
                sieve.pass(&frame(FramingName::RadioBoard, Kind::SetPoint, &[0, 9]), &mut left_out),
                [0]
            );
        }
        assert_eq!(left_out, LeftOut { set_points: 2, errands: 0 });
    }

    /// With an agreement an errand that moves nothing passes; one that moves, one that is not known, and one of a sender with another
    /// agreement do not.
    #[test]
    fn with_an_agreement_errands_that_move_nothing_pass() {
        let table = Arc::new(crate::observatory::table());
        let (lamp, goto, stranger) = ([9, 40], [1, 0], [99]);
        let mut left_out = LeftOut::default();
        let mut sieve = Sieve::new(wiring(FramingName::Cobs), Some(table));
        let errand = |payload: &[u8]| frame(FramingName::Cobs, Kind::Errand, payload);
        assert_eq!(sieve.pass(&errand(&lamp), &mut left_out), errand(&lamp));
        assert_eq!(sieve.pass(&errand(&goto), &mut left_out), [0]);
        assert_eq!(sieve.pass(&errand(&stranger), &mut left_out), [0]);
        sieve.stated = 0xBAD;
        assert_eq!(sieve.pass(&errand(&lamp), &mut left_out), [0]);
        assert_eq!(left_out, LeftOut { set_points: 0, errands: 3 });
    }

    #[test]
    fn endless_text_passes_in_bounded_memory() {
        let mut sieve = Sieve::new(wiring(FramingName::Cobs), None);
        let mut left_out = LeftOut::default();
        let mut passed = 0;
        for _ in 0..100 {
            passed += sieve.pass(&[b'x'; 999], &mut left_out).len();
            assert!(sieve.open.len() <= LONGEST);
        }
        assert!(passed > 90_000);
        let frame = frame(FramingName::Cobs, Kind::SetPoint, &[1]);
        assert_eq!(sieve.pass(&frame, &mut left_out).len(), 1, "the delimiter that ends the text");
        assert_eq!(left_out.set_points, 1);
    }
}
