mod bodies;
mod copies;
mod cost;
mod losses;

use super::*;
use crate::{
    fcs::Fcs16,
    frame::ResetCause,
    framing::{Datagram, Lead},
    link::OwnNumber,
    time::Duration,
};

const fn ms(ms: u32) -> Duration {
    Duration::from_ticks(ms * 1_000)
}

const CONFIG: ArrivingConfig = ArrivingConfig {
    address: 3,
    own: OwnNumber::Random(0x0403_0201),
    cause: ResetCause::Wake,
    fingerprint: 0x0807_0605,
    time_out: ms(300),
    tries: 3,
    span: ms(10_000),
    lifetime: ms(500),
    jitter_seed: 0,
};

/// The next frame, without its FCS.
fn sends<const OCTETS: usize>(leaf: &mut Arriving<OCTETS>) -> Option<std::vec::Vec<u8>> {
    let mut out = [0; 64];
    let len = leaf.poll_transmit::<_, Fcs16>(&Datagram, Lead::Delimiter, ms(0), &mut out)?;
    Some(out[..len - 2].to_vec())
}

fn answers(answer: ArrivalAnswer, leaf: u8) -> std::vec::Vec<u8> {
    let mut out = [0; 64];
    let len = answer.write::<_, Fcs16>(&Datagram, leaf, Lead::Delimiter, &mut out);
    out[..len - 2].to_vec()
}
