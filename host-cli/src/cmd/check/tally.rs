//! What a check has seen: octets, frames, echoes and answers. Pure, so that each verdict can be tested.

use std::{collections::BTreeMap, time::Duration};

use bellwire::frame::{Addresses, Extension, Kind, Open, Read, Reject};

use super::verdict::Verdict;

/// A probe of ours.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Probe {
    /// Octets of filling.
    pub filling: usize,
    /// When it was handed to the endpoint, ns.
    pub sent: u64,
    /// Time until its answer came.
    pub round_trip: Option<Duration>,
}

/// Everything seen so far.
#[derive(Debug, Clone)]
pub struct Tally {
    /// Whether the other side was ever there: the device plugged in, the pseudo-terminal opened, the connection made.
    pub present: bool,
    /// Our probes by id.
    pub probes: BTreeMap<u16, Probe>,
    /// Octets received.
    pub octets: u64,
    /// Our own probes that came back as they were.
    pub echoes: u64,
    /// The addresses that an answer to us has; `None` where two boards have the line to themselves.
    pub ours: Option<Addresses>,
    /// Frames between others on a shared medium.
    pub shared: u64,
    /// Valid frames that are neither echoes nor answers to us.
    pub others: u64,
    /// Refused candidates by rule.
    pub rejects: BTreeMap<Reject, u64>,
    /// Foreign text, its first octets.
    pub text: Vec<u8>,
    /// Octets of foreign text.
    pub text_octets: u64,
    /// How often each octet value came.
    pub values: [u64; 256],
    /// The largest payload that every board heard so far takes, as its OPEN states.
    pub max_payload: u16,
}

impl Default for Tally {
    fn default() -> Self {
        Self {
            present: false,
            probes: BTreeMap::new(),
            octets: 0,
            echoes: 0,
            ours: None,
            shared: 0,
            others: 0,
            rejects: BTreeMap::new(),
            text: Vec::new(),
            text_octets: 0,
            values: [0; 256],
            max_payload: u16::MAX,
        }
    }
}

impl Tally {
    /// A probe goes out.
    pub fn sent(&mut self, id: u16, filling: usize, at: u64) {
        self.probes.insert(id, Probe { filling, sent: at, round_trip: None });
    }

    /// Octets came in.
    pub fn octets(&mut self, octets: &[u8]) {
        self.octets += octets.len() as u64;
        for &octet in octets {
            self.values[usize::from(octet)] += 1;
        }
    }

    /// Something was found in them, `at` ns.
    pub fn found(&mut self, read: &Read<'_>, at: u64) {
        let addresses = match read {
            Read::Frame(view) => view.header.addresses,
            _ => None,
        };
        let is_ours = addresses == self.ours;
        self.shared += u64::from(addresses.is_some() && !is_ours);
        match read {
            Read::Frame(view) => match (view.header.extension, self.probe_of(view.payload)) {
                (Some(Extension::Probe), Some(_)) => self.echoes += 1,
                (Some(Extension::ProbeAnswer), Some(probe)) if is_ours => {
                    probe.round_trip.get_or_insert(Duration::from_nanos(at.saturating_sub(probe.sent)));
                }
                _ => {
                    self.others += 1;
                    if let (Kind::Open, Ok(open)) = (view.header.kind, Open::parse(view.payload)) {
                        self.max_payload = self.max_payload.min(open.max_payload);
                    }
                }
            },
            Read::Text(text) => {
                self.text_octets += text.len() as u64;
                let room = 200_usize.saturating_sub(self.text.len());
                self.text.extend(text.iter().take(room));
            }
            Read::Refused { reject, .. } => *self.rejects.entry(*reject).or_default() += 1,
        }
    }

    fn probe_of(&mut self, body: &[u8]) -> Option<&mut Probe> {
        let (id, filling) = body.split_first_chunk::<2>()?;
        self.probes.get_mut(&u16::from_le_bytes(*id)).filter(|probe| probe.filling == filling.len())
    }

    /// The most octets of filling that a probe may have, beside its two octets of id, for every board heard so far.
    #[must_use]
    pub fn longest_filling(&self) -> usize {
        usize::from(self.max_payload).saturating_sub(2)
    }

    /// Probes sent.
    #[must_use]
    pub fn probed(&self) -> usize {
        self.probes.len()
    }

    /// Round trips of the answered probes, shortest first.
    #[must_use]
    pub fn round_trips(&self) -> Vec<Duration> {
        let mut trips: Vec<_> = self.probes.values().filter_map(|probe| probe.round_trip).collect();
        trips.sort();
        trips
    }

    /// Share of unanswered probes among those with a filling longer (`true`) or not longer than `limit` octets.
    #[must_use]
    pub fn lost_by_length(&self, limit: usize) -> [(usize, usize); 2] {
        let mut lost = [(0, 0); 2];
        for probe in self.probes.values() {
            let (of, all) = &mut lost[usize::from(probe.filling > limit)];
            *all += 1;
            *of += usize::from(probe.round_trip.is_none());
        }
        lost
    }

    /// Refused candidates of all rules.
    #[must_use]
    pub fn refused(&self) -> u64 {
        self.rejects.values().sum()
    }

    /// What this amounts to.
    #[must_use]
    pub fn verdict(&self) -> Verdict {
        if self.probes.values().any(|probe| probe.round_trip.is_some()) {
            Verdict::BothWays
        } else if self.others > 0 {
            Verdict::OneWay
        } else if self.echoes > 0 {
            Verdict::OwnEcho
        } else if self.octets > 0 {
            Verdict::NeverValid
        } else {
            Verdict::Nothing
        }
    }

    /// How many times too fast this side samples, if the octets look like it: each bit of the sender then fills several of ours,
    /// and only a few octet values can come (for back-to-back 8N1 characters).
    #[must_use]
    pub fn rate_ratio(&self) -> Option<u32> {
        const ALPHABETS: [(u32, &[u8]); 6] = [
            (8, &[0x00, 0x80]),
            (6, &[0x00, 0xE0]),
            (5, &[0x00, 0xF0]),
            (4, &[0x00, 0x78, 0x80, 0xF8]),
            (3, &[0x00, 0x1C, 0xE0, 0xFC]),
            (
                2,
                &[
                    0x00, 0x06, 0x18, 0x1E, 0x60, 0x66, 0x78, 0x7E, 0x80, 0x86, 0x98, 0x9E, 0xE0, 0xE6, 0xF8,
                    0xFE,
                ],
            ),
        ];
        if self.octets < 32 || self.kinds_of_octets() < 2 {
            return None;
        }
        let fits = |alphabet: &[u8]| {
            self.values.iter().zip(0..=u8::MAX).all(|(&count, octet)| count == 0 || alphabet.contains(&octet))
        };
        ALPHABETS.iter().find(|(_, alphabet)| fits(alphabet)).map(|&(ratio, _)| ratio)
    }

    /// How many different octet values came.
    #[must_use]
    pub fn kinds_of_octets(&self) -> usize {
        self.values.iter().filter(|&&count| count > 0).count()
    }

    /// Whether this octet is all that came.
    #[must_use]
    pub fn only(&self, octet: u8) -> bool {
        self.octets > 0 && self.values[usize::from(octet)] == self.octets
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use bellwire::frame::{Header, Kind, View};

    fn extended(extension: Extension) -> Header {
        Header { extension: Some(extension), ..Header::new(Kind::Extended) }
    }

    #[test]
    fn every_verdict_has_its_evidence() {
        let mut tally = Tally::default();
        tally.sent(7, 1, 1000);
        assert_eq!(tally.verdict(), Verdict::Nothing);
        tally.octets(&[0xFF]);
        assert_eq!(tally.verdict(), Verdict::NeverValid);
        tally.found(&Read::Frame(View { header: extended(Extension::Probe), payload: &[7, 0, 9] }), 2000);
        assert_eq!(tally.verdict(), Verdict::OwnEcho);
        tally.found(&Read::Frame(View { header: Header::new(Kind::Notice), payload: &[8] }), 2000);
        assert_eq!(tally.verdict(), Verdict::OneWay);
        tally.found(
            &Read::Frame(View { header: extended(Extension::ProbeAnswer), payload: &[8, 0, 9] }),
            2000,
        );
        assert_eq!(tally.verdict(), Verdict::OneWay, "an answer to somebody else");
        tally.found(
            &Read::Frame(View { header: extended(Extension::ProbeAnswer), payload: &[7, 0, 9] }),
            3000,
        );
        assert_eq!(tally.verdict(), Verdict::BothWays);
        assert_eq!(tally.round_trips(), [Duration::from_nanos(2000)]);
    }

    /// An ideal mid-bit sampler, 8N1, over random octets sent back to back: what it reads at a whole ratio must lie in the alphabet.
    fn misread(ratio: usize) -> Vec<u8> {
        let mut bits = vec![true; 40];
        let mut seed = 1_u32;
        for _ in 0..400 {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let octet = seed.to_be_bytes()[0];
            bits.push(false);
            bits.extend((0..8).map(|bit| octet >> bit & 1 == 1));
            bits.push(true);
        }
        let sample = |at: usize| bits.get(at / ratio).copied().unwrap_or(true);
        let (mut at, mut octets) = (0, Vec::new());
        while at < bits.len() * ratio {
            if sample(at) {
                at += 1;
                continue;
            }
            octets.push((0..8).filter(|bit| sample(at + 1 + bit)).fold(0, |octet, bit| octet | 1 << bit));
            at += 9;
            while at < bits.len() * ratio && !sample(at) {
                at += 1;
            }
        }
        octets
    }

    #[test]
    fn a_rate_that_is_too_high_is_named_by_its_ratio() {
        for ratio in [2, 3, 4, 5, 6, 8] {
            let mut tally = Tally::default();
            tally.octets(&misread(ratio));
            assert_eq!(tally.rate_ratio(), u32::try_from(ratio).ok(), "{ratio}");
        }
        let mut tally = Tally::default();
        tally.octets(&misread(1));
        assert_eq!(tally.rate_ratio(), None);
    }
}
