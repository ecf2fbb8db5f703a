//! Both ends of a radio board's UART, and hearings, on any octets.

use bellwire::{
    fcs::Fcs16,
    frame::{Read, Reader},
    framing::{Air, Cobs, Framing, Lead, RadioBoard},
    io::{Datagram, Medium, Memory, Received},
    radio::{Carrier, Hearing},
    time::Instant,
};

/// A chip that hears the input and takes every other datagram.
#[derive(Debug)]
struct Chip {
    heard: Option<Vec<u8>>,
    sent: Vec<Vec<u8>>,
    tries: usize,
}

impl Datagram for Chip {
    type Error = ();

    fn send(&mut self, datagram: &[u8]) -> Result<Medium, ()> {
        self.tries += 1;
        if self.tries.is_multiple_of(2) {
            return Ok(Medium::Busy);
        }
        self.sent.push(datagram.to_vec());
        Ok(Medium::Free)
    }

    fn receive(&mut self, now: Instant, into: &mut [u8]) -> Result<Option<Received>, ()> {
        let Some(octets) = self.heard.take() else { return Ok(None) };
        let len = octets.len().min(into.len());
        into[..len].copy_from_slice(&octets[..len]);
        Ok(Some(Received { octets: len, arrived: now, strength: Some(-77) }))
    }
}

/// The first octet cuts the rest, which goes four ways: as a body, as octets of the UART to each end, as a datagram of the air, as a report. Oracles: what is read is
/// what is written; any cut finds the same; each SEND is answered once and what the chip got was in it; a datagram of the air comes out whole.
///
/// # Panics
/// If one of them does not hold.
pub fn air(data: &[u8]) {
    let Some((cut, rest)) = data.split_first() else { return };
    let rest = &rest[..rest.len().min(400)];
    body(rest);
    computer(rest, usize::from(*cut) + 1);
    board(rest);
    if let Ok((Some(hearing), message)) = Hearing::split(rest) {
        let mut out = [0; 500];
        let len = hearing.put_before(message, &mut out).expect("room");
        assert_eq!(&out[..len], rest, "a hearing is canonical");
    }
}

/// As it goes over the UART.
fn on_the_uart(body: &[u8]) -> Vec<u8> {
    let frame = [&[0xE0, 0x16][..], body].concat();
    let fcs = crate::naive::fcs(16, &frame);
    let mut out = [0; 600];
    let len = Cobs.encode(&[&frame, &fcs[..2]], Lead::Delimiter, &mut out).expect("room");
    out[..len].to_vec()
}

fn body(octets: &[u8]) {
    let frame = [&[0xE0, 0x16][..], octets].concat();
    if let Ok(air) = Air::read(&frame) {
        let mut out = [0; 600];
        let len = air.encode(&mut out).expect("room");
        assert_eq!(out[..len], on_the_uart(octets), "a body is canonical");
    }
}

/// What a computer finds in a stream that holds the octets as they are and as a body.
fn computer(octets: &[u8], piece: usize) {
    let stream = [octets, &on_the_uart(octets), octets, &[0]].concat();
    let finds = |piece: usize| {
        let mut reader = Reader::<RadioBoard, Fcs16, 1040>::new(RadioBoard);
        let mut found = Vec::new();
        for part in stream.chunks(piece) {
            let mut rest = part;
            while !rest.is_empty() {
                let (taken, read) = reader.feed(rest);
                rest = &rest[taken..];
                match read {
                    Some(Read::Frame(view)) => found.push(format!("{view:?}")),
                    Some(Read::Refused { reject, .. }) => found.push(reject.to_string()),
                    Some(Read::Text(text)) => found.push(format!("{text:?}")),
                    None => {}
                }
            }
        }
        found
    };
    assert_eq!(finds(piece), finds(stream.len()));
}

fn board(octets: &[u8]) {
    let chip = Chip { heard: Some(octets.to_vec()), sent: vec![], tries: 0 };
    let mut board = Carrier::<Memory<2048>, Chip, 128>::new(Memory::new(), chip);
    let send = |datagram: &[u8]| on_the_uart(&[&[1][..], datagram].concat());
    let stream = [&send(octets)[..], octets, &[0], &send(&[1, 2, 3, 4])].concat();
    board.line_mut().arrive(Instant::from_ticks(0), &stream).expect("room");
    for time in 0..100 {
        board.turn(Instant::from_ticks(time)).expect("a line");
    }
    let carried = board.carried();
    let told: Vec<u8> = std::iter::from_fn(|| board.line_mut().depart()).collect();
    let (mut answers, mut heard) = (0, 0);
    for candidate in told.split(|octet| *octet == 0).filter(|candidate| !candidate.is_empty()) {
        let mut plain = vec![0; candidate.len()];
        let len = bellwire::framing::cobs::decode(candidate, &mut plain).expect("canonical");
        match Air::read(&plain[..len - 2]).expect("a body") {
            Air::Heard { datagram, .. } => {
                heard += 1;
                assert_eq!(datagram, &octets[..octets.len().min(110)], "whole, or cut to the buffer");
            }
            Air::Sent { .. } | Air::NotSent { .. } => answers += 1,
            Air::Send { .. } => panic!("a board sends no SEND"),
        }
    }
    assert_eq!((answers, heard), (carried.sent + carried.not_sent, carried.heard));
    assert!(answers >= 1, "the last one always comes through");
    let Chip { sent, tries, .. } = board.chip_mut();
    assert_eq!((sent.len(), *tries), (carried.sent as usize, sent.len() + *tries / 2));
    assert!(sent.iter().all(|datagram| datagram.len() <= 110));
}
