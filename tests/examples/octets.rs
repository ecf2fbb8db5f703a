//! The crate's own coding, a line at a time, for the oracles in Python: `octets JOB` reads hex lines and writes hex lines.
//!
//! Jobs: `cobs`, `octet-stuffing`, `slip` (stuffing without FCS and delimiters); `un-cobs` and so on, which write `refused: NAME` for
//! what is refused; `fcs16`, `fcs32`.

use bellwire::{
    fcs::{Fcs, Fcs16, Fcs32},
    framing::{ControlMap, cobs, octet_stuffing, slip},
};
use bellwire_tests::vector::{hex, unhex};
use std::io::BufRead as _;

fn main() {
    let job = std::env::args().nth(1).expect("a job");
    for line in std::io::stdin().lock().lines() {
        let octets = unhex(&line.expect("a line")).expect("hex");
        let mut out = vec![0; 2 * octets.len() + 8];
        let map = ControlMap(0);
        let done = match &job[..] {
            "cobs" => cobs::encode(&[&octets], &mut out).map_err(|fault| fault.to_string()),
            "octet-stuffing" => {
                octet_stuffing::encode(map, &[&octets], &mut out).map_err(|fault| fault.to_string())
            }
            "slip" => slip::encode(&[&octets], &mut out).map_err(|fault| fault.to_string()),
            "un-cobs" => cobs::decode(&octets, &mut out).map_err(|reject| reject.name().to_owned()),
            "un-octet-stuffing" => {
                octet_stuffing::decode(map, &octets, &mut out).map_err(|reject| reject.name().to_owned())
            }
            "un-slip" => slip::decode(&octets, &mut out).map_err(|reject| reject.name().to_owned()),
            "fcs16" => Ok(sum::<Fcs16>(&octets, &mut out)),
            "fcs32" => Ok(sum::<Fcs32>(&octets, &mut out)),
            other => panic!("no job {other}"),
        };
        match done {
            Ok(len) => println!("{}", hex(&out[..len])),
            Err(why) => println!("refused: {why}"),
        }
    }
}

fn sum<C: Fcs>(octets: &[u8], out: &mut [u8]) -> usize {
    out[..4].copy_from_slice(&C::octets(C::update(C::INIT, octets)));
    C::LEN
}
