//! Any framing with any FCS behind one call, and what a receiver finds in octets.

use crate::vector::{Find, FramingName, Line, Octets};
use bellwire::{
    fcs::{Fcs, Fcs16, Fcs32},
    frame::View,
    framing::{Cobs, ControlMap, Datagram, Framing, OctetStuffing, Slip, Step},
};

/// Something to do with a framing and an FCS that are only known at run time.
pub trait Job {
    /// What it gives.
    type Out;
    /// Does it.
    fn run<F: Framing, C: Fcs>(self, framing: F) -> Self::Out;
}

/// Runs a job on the framing and FCS of `line`.
///
/// # Panics
/// If the FCS is neither 16 nor 32 bits wide.
pub fn on<J: Job>(line: Line, job: J) -> J::Out {
    fn with<J: Job, F: Framing>(width: u8, framing: F, job: J) -> J::Out {
        match width {
            16 => job.run::<F, Fcs16>(framing),
            32 => job.run::<F, Fcs32>(framing),
            other => panic!("no FCS of {other} bits"),
        }
    }
    match line.framing {
        FramingName::Cobs => with(line.fcs, Cobs, job),
        FramingName::OctetStuffing => with(line.fcs, OctetStuffing::new(ControlMap(line.map)), job),
        FramingName::Slip => with(line.fcs, Slip, job),
        FramingName::Datagram => with(line.fcs, Datagram, job),
    }
}

/// Every framing with every FCS, octet stuffing with three maps.
pub const ALL: [Line; 12] = {
    const fn line(framing: FramingName, fcs: u8, map: u32) -> Line {
        Line { framing, fcs, map, buffer: 0 }
    }
    [
        line(FramingName::Cobs, 16, 0),
        line(FramingName::Cobs, 32, 0),
        line(FramingName::OctetStuffing, 16, 0),
        line(FramingName::OctetStuffing, 32, 0),
        line(FramingName::OctetStuffing, 16, 0x000A_0008),
        line(FramingName::OctetStuffing, 32, 0x000A_0008),
        line(FramingName::OctetStuffing, 16, u32::MAX),
        line(FramingName::OctetStuffing, 32, u32::MAX),
        line(FramingName::Slip, 16, 0),
        line(FramingName::Slip, 32, 0),
        line(FramingName::Datagram, 16, 0),
        line(FramingName::Datagram, 32, 0),
    ]
};

/// Room for the longest frame with a stuffing code and FCS to spare.
pub const ROOM: usize = 2100;

/// All that a receiver with the buffer of `line` finds in `pieces`, fed one after the other (a datagram each on datagram lines).
#[must_use]
pub fn finds<'a>(line: Line, pieces: impl IntoIterator<Item = &'a [u8]>) -> Vec<Find> {
    on(line, Finds { pieces, room: if line.buffer == 0 { ROOM } else { line.buffer } })
}

struct Finds<I> {
    pieces: I,
    room: usize,
}

impl<'a, I: IntoIterator<Item = &'a [u8]>> Job for Finds<I> {
    type Out = Vec<Find>;

    fn run<F: Framing, C: Fcs>(self, framing: F) -> Vec<Find> {
        let (mut found, mut state, mut buffer) = (Vec::new(), F::State::default(), vec![0; self.room]);
        for piece in self.pieces {
            let (mut rest, mut idle) = (piece, 0);
            while !rest.is_empty() {
                let fed = framing.feed::<C>(&mut state, rest, &mut buffer);
                assert!(fed.consumed > 0 || fed.step != Step::More, "no progress on {rest:02x?}");
                idle = if fed.consumed > 0 { 0 } else { idle + 1 };
                assert!(
                    idle < 3 || matches!(fed.step, Step::Text { len: 1.. }),
                    "no progress on {rest:02x?}"
                );
                rest = &rest[fed.consumed..];
                match fed.step {
                    Step::More => assert!(rest.is_empty(), "stopped without a reason"),
                    Step::Text { len } => found.push(Find::Text(Octets(buffer[..len].to_vec()))),
                    Step::Refused { reject, .. } => found.push(Find::Reject(reject.name().to_owned())),
                    Step::Frame { start, len } => {
                        found.push(match View::parse(&buffer[start..][..len], !F::ORDERED) {
                            Ok(_) => Find::Frame(Octets(buffer[start..][..len].to_vec())),
                            Err(reject) => Find::Reject(reject.name().to_owned()),
                        })
                    }
                }
            }
        }
        found
    }
}

/// The wire image of a frame given without its FCS.
#[must_use]
pub fn encode(line: Line, lead: bellwire::framing::Lead, frame: &[u8]) -> Vec<u8> {
    struct Encode<'a>(&'a [u8], bellwire::framing::Lead);
    impl Job for Encode<'_> {
        type Out = Vec<u8>;
        fn run<F: Framing, C: Fcs>(self, framing: F) -> Vec<u8> {
            let check = C::octets(C::update(C::INIT, self.0));
            let check = &check[..C::LEN];
            let mut out = vec![0; F::max_encoded_len(self.0.len() + C::LEN)];
            let len =
                framing.encode(&[self.0, check], self.1, &mut out).expect("the longest length is enough");
            out.truncate(len);
            out
        }
    }
    on(line, Encode(frame, lead))
}
