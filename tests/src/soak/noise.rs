//! The named noises, and the lines on which they are soaked.

use bellwire_cli::endpoint::{FcsName, FramingName};
use bellwire_cli::sim::{Carries, Faults, profile};

/// A named noise and the lines for it.
#[derive(Debug, Clone, Copy)]
pub struct Noise {
    /// Name of the profile.
    pub name: &'static str,
    /// Its odds.
    pub faults: Faults,
    /// What the lines carry.
    pub carries: Carries,
    /// The framings, each night one of them.
    pub framings: &'static [FramingName],
    /// The FCS: 32 bits where octets are dropped, put in or spoilt in bursts, for of so many damaged frames 16 bits would let some
    /// pass (2^-16 of 10^6 and more). 16 bits where nothing is damaged, or only single bits of datagrams: four in one frame are needed
    /// (Hamming distance 4), which at 1 octet in 2000 happens once in 10^9 frames, and then passes with odds of 5e-5.
    pub fcs: FcsName,
    /// How long the noise of one night lasts, in seconds of virtual time.
    pub seconds: u64,
}

const STREAMS: &[FramingName] = &[FramingName::Cobs, FramingName::OctetStuffing, FramingName::Slip];

const fn wire(name: &'static str, faults: Faults, fcs: FcsName) -> Noise {
    Noise { name, faults, carries: Carries::Octets { level: 16 }, framings: STREAMS, fcs, seconds: 60 }
}

const fn radio(name: &'static str, faults: Faults, fcs: FcsName) -> Noise {
    Noise { name, faults, carries: Carries::Datagrams, framings: &[FramingName::Datagram], fcs, seconds: 60 }
}

/// The six profiles of `bellwire_cli::sim::profile`, in its order.
pub const NOISES: [Noise; 6] = [
    wire("clean", profile::CLEAN, FcsName::Bits16),
    wire("bench", profile::BENCH, FcsName::Bits32),
    wire("motor", profile::MOTOR, FcsName::Bits32),
    // Little gets through, so few frames are sent.
    Noise { seconds: 600, ..wire("hostile", profile::HOSTILE, FcsName::Bits32) },
    radio("field", profile::FIELD, FcsName::Bits16),
    radio("crowd", profile::CROWD, FcsName::Bits16),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_profile_is_soaked_with_its_own_odds() {
        let soaked: Vec<_> = NOISES.iter().map(|noise| (noise.name, noise.faults)).collect();
        assert_eq!(soaked, profile::ALL);
    }
}
