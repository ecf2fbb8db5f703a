//! The data: back-to-back frames of packed telemetry, as a long night would give.

use bellwire::{
    fcs::Fcs16,
    frame::{Header, Kind, write},
    framing::{Cobs, Lead},
};
use bellwire_cli::sim::{Dice, Seed};
use std::io::{self, Write};

/// Writes frames until there are so many octets: payloads of 4 to 32 octets (message number 20, then telemetry of which 28 % is
/// zero), set-points, reports and notices in turn; one frame in 1000 has one bit flipped.
#[allow(clippy::cast_possible_truncation)]
pub fn make(seed: u64, octets: u64, out: &mut impl Write) -> io::Result<()> {
    let mut random = Seed(seed).stream(0);
    let mut time = 70_000;
    let mut numbers = [0_u8; 3];
    let mut written = 0;
    let mut payload = Vec::new();
    while written < octets {
        payload.clear();
        payload.push(20);
        let len = 4 + random.below(29) as usize;
        while payload.len() < len {
            telemetry(&mut payload, &mut time, &mut random);
        }
        let which = (random.below(4) as usize).min(2);
        let mut header = Header::new([Kind::Report, Kind::Notice, Kind::SetPoint][which]);
        header.number = numbers[which];
        numbers[which] = numbers[which].wrapping_add(1);
        let mut wire = [0; 64];
        let len = write::<_, Fcs16>(&Cobs, &header, &payload[..len], Lead::BackToBack, &mut wire)
            .map_err(io::Error::other)?;
        if random.below(1000) == 0 {
            let at = random.below(len as u64 - 1) as usize;
            wire[at] ^= 1 << random.below(8);
        }
        out.write_all(&wire[..len])?;
        written += len as u64;
    }
    out.flush()
}

/// Packed little-endian telemetry: a time in ms (u32), three i16, an f32, a flag octet and a pad octet.
#[allow(clippy::cast_possible_truncation)]
fn telemetry(octets: &mut Vec<u8>, time: &mut u32, random: &mut Dice) {
    *time += 10 + random.below(3) as u32;
    octets.extend(time.to_le_bytes());
    for _ in 0..3 {
        octets.extend((random.below(600) as i16 - 150).to_le_bytes());
    }
    octets.extend((random.below(400) as f32 / 16.0).to_le_bytes());
    octets.extend([random.below(4) as u8, 0]);
}
