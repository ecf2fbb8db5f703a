//! What one lost octet costs: the frame it was in, and no other.
//!
//! Three frames leave back to back. Then the same octets again, each time without one of them.

use bellwire::{
    fcs::Fcs16,
    frame::{self, Header, Kind, Read, Reader},
    framing::{Cobs, Lead},
};

/// Three notices as octets on the wire.
fn wire() -> Vec<u8> {
    let mut line = Vec::new();
    for (number, lead) in [(0, Lead::Delimiter), (1, Lead::BackToBack), (2, Lead::BackToBack)] {
        let header = Header { number, ..Header::new(Kind::Notice) };
        let mut out = [0; 32];
        let len =
            frame::write::<Cobs, Fcs16>(&Cobs, &header, &[8, 35, 0, number], lead, &mut out).unwrap_or(0);
        line.extend_from_slice(&out[..len]);
    }
    line
}

/// The numbers of the frames that a reader finds, and what it refuses.
fn read(line: &[u8]) -> (Vec<u8>, Vec<&'static str>) {
    let mut reader = Reader::<Cobs, Fcs16, 64>::new(Cobs);
    let (mut numbers, mut refused, mut rest) = (Vec::new(), Vec::new(), line);
    while !rest.is_empty() {
        let (consumed, found) = reader.feed(rest);
        match found {
            Some(Read::Frame(view)) => numbers.push(view.header.number),
            Some(Read::Refused { reject, .. }) => refused.push(reject.reason()),
            Some(Read::Text(_)) => refused.push("text"),
            None => {}
        }
        rest = &rest[consumed..];
    }
    (numbers, refused)
}

fn main() {
    let whole = wire();
    println!("three frames back to back, {} octets: {:?}", whole.len(), read(&whole).0);
    let mut worst = 3;
    for lost in 0..whole.len() {
        let mut line = whole.clone();
        let octet = line.remove(lost);
        let (numbers, refused) = read(&line);
        println!("without octet {lost:2} ({octet:02X}): frames {numbers:?} {}", refused.join(", "));
        worst = worst.min(numbers.len());
    }
    println!(
        "A lost octet costs the frame it was in. A lost delimiter between two frames makes one bad frame of both."
    );
    println!("In the worst case {worst} of 3 frames came through; the link sends errands and reports again.");
}
