//! Single frames, without a session: reading what passes and writing one frame, whatever the wiring.

use bellwire::{
    fcs::{Fcs, Fcs16, Fcs32},
    frame::{Header, MAX_HEADER, Read, Reader},
    framing::{Cobs, ControlMap, Datagram, Framing, Lead, OctetStuffing, RadioBoard, Slip},
};

use crate::endpoint::{FcsName, FramingName, Wiring};

/// Octets of the receive buffer: every frame that the wire allows.
const FRAME: usize = 1040;
/// The same with what a radio board puts around it.
const AROUND: usize = FRAME + 10;

/// Reads and writes single frames.
pub trait Codec: Send {
    /// Feeds octets (on a datagram line: one datagram) and hands out all that they complete.
    fn read(&mut self, octets: &[u8], found: &mut dyn FnMut(Read<'_>));
    /// One frame with its FCS, before framing.
    fn frame(&self, header: &Header, payload: &[u8]) -> Vec<u8>;
    /// What [`Codec::frame`] made, or anything else, on the wire with both delimiters.
    fn encode(&self, frame: &[u8]) -> Vec<u8>;
    /// The octet between frames, if the framing has one.
    fn delimiter(&self) -> Option<u8>;
}

/// The codec for this wiring.
#[must_use]
pub fn codec(wiring: Wiring) -> Box<dyn Codec> {
    match wiring.fcs {
        FcsName::Bits16 => framed::<Fcs16>(wiring),
        FcsName::Bits32 => framed::<Fcs32>(wiring),
    }
}

fn framed<C: Fcs + Send + 'static>(wiring: Wiring) -> Box<dyn Codec> {
    match wiring.framing {
        FramingName::Cobs => Box::new(Reader::<Cobs, C, FRAME>::new(Cobs)),
        FramingName::OctetStuffing => {
            Box::new(Reader::<_, C, FRAME>::new(OctetStuffing::new(ControlMap(wiring.map))))
        }
        FramingName::Slip => Box::new(Reader::<Slip, C, FRAME>::new(Slip)),
        FramingName::Datagram => Box::new(Reader::<Datagram, C, FRAME>::new(Datagram)),
        FramingName::RadioBoard => Box::new(Reader::<RadioBoard, C, AROUND>::new(RadioBoard)),
    }
}

impl<F: Framing + Send, C: Fcs + Send, const N: usize> Codec for Reader<F, C, N>
where
    F::State: Send,
{
    fn read(&mut self, octets: &[u8], found: &mut dyn FnMut(Read<'_>)) {
        let mut rest = octets;
        loop {
            let (consumed, read) = self.feed(rest);
            rest = rest.get(consumed..).unwrap_or_default();
            match read {
                Some(read) => found(read),
                None if rest.is_empty() || consumed == 0 => return,
                None => {}
            }
        }
    }

    fn frame(&self, header: &Header, payload: &[u8]) -> Vec<u8> {
        let mut head = [0; MAX_HEADER];
        let len = header.write(&mut head);
        let mut frame = head[..len].to_vec();
        frame.extend_from_slice(payload);
        frame.extend_from_slice(&C::octets(C::update(C::INIT, &frame))[..C::LEN]);
        frame
    }

    fn encode(&self, frame: &[u8]) -> Vec<u8> {
        let mut out = vec![0; F::max_encoded_len(frame.len())];
        let len = self.framing().encode(&[frame], Lead::Delimiter, &mut out).unwrap_or(0);
        out.truncate(len);
        out
    }

    fn delimiter(&self) -> Option<u8> {
        F::DELIMITER
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use bellwire::{frame::Kind, framing::Air};

    #[test]
    fn what_is_written_is_read_back_with_every_wiring() {
        let payload: Vec<u8> = [9].into_iter().chain(0..=255).collect();
        for framing in FramingName::ALL {
            for fcs in FcsName::ALL {
                let mut codec = codec(Wiring { framing, fcs, map: 0xFFFF_FFFF });
                let mut header = Header::new(Kind::Notice);
                header.number = 3;
                header.tag = framing.is_unordered().then_some(7);
                let frame = codec.frame(&header, &payload);
                let mut wire = codec.encode(&frame);
                if framing == FramingName::RadioBoard {
                    // What the board in the field sends back: our own form is not ours to read (W-64).
                    codec.read(&wire, &mut |read| panic!("{read:?}"));
                    let heard = Air::Heard { at: 9, strength: Some(-80), datagram: &frame };
                    let len = heard.encode(&mut wire).unwrap_or_else(|_| {
                        wire.resize(frame.len() + 18, 0);
                        heard.encode(&mut wire).unwrap()
                    });
                    wire.truncate(len);
                }
                let mut seen = 0;
                codec.read(&wire, &mut |read| match read {
                    Read::Frame(view) => {
                        assert_eq!((view.header, view.payload), (header, payload.as_slice()));
                        seen += 1;
                    }
                    other => panic!("{framing} {fcs}: {other:?}"),
                });
                assert_eq!(seen, 1, "{framing} {fcs}");
            }
        }
    }

    #[test]
    fn the_raw_octets_of_the_help_page_are_a_probe() {
        let page = crate::args::table().find_subcommand_mut("inject").unwrap().render_help().to_string();
        let raw = page.split("--raw '").nth(1).unwrap().split('\'').next().unwrap();
        let octets: crate::args::units::Octets = raw.parse().unwrap();
        let mut seen = Vec::new();
        codec(Wiring::default()).read(&octets.0, &mut |read| match read {
            Read::Frame(view) => seen.push((view.header.extension, view.payload.to_vec())),
            other => panic!("{other:?}"),
        });
        assert_eq!(seen, [(Some(bellwire::frame::Extension::Probe), vec![7, 0])]);
    }
}
