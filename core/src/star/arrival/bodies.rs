//! The bodies of ARRIVAL (W-69).

use crate::{
    fcs::Fcs,
    frame::{MessageNumber, ResetCause},
    framing::{Framing, Lead},
    star::{Addressed, extended},
};

/// Octets of an ARRIVAL before its payload.
pub const ARRIVAL_HEAD: usize = 9;

/// Octets of the hub's answer.
pub const ARRIVAL_ANSWER_LEN: usize = 5;

const NUMBERLESS: u8 = 1 << 2;
const CAUSE: u8 = 7 << 4;
const MORE: u8 = 0x80;

/// A leaf that keeps nothing over its sleep reports.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Arrival<'a> {
    /// Its own number (W-22), another one after each start; without meaning if it is numberless.
    pub mine: u32,
    /// It has neither storage nor randomness (W-36).
    pub numberless: bool,
    /// Why it started.
    pub cause: ResetCause,
    /// Fingerprint of its agreement; 0: none, matches any.
    pub fingerprint: u32,
    /// Its report, message number first.
    pub payload: &'a [u8],
}

impl<'a> Arrival<'a> {
    /// The code of the extension.
    pub const CODE: u8 = 0x18;

    /// Reads a body; `None` if it is too short, a bit that means nothing is set, or the payload does not begin with a message number (W-18).
    #[must_use]
    pub fn parse(body: &'a [u8]) -> Option<Self> {
        let (mine, rest) = body.split_first_chunk::<4>()?;
        let (&flags, rest) = rest.split_first()?;
        let (fingerprint, payload) = rest.split_first_chunk::<4>()?;
        MessageNumber::of(payload)?;
        let cause = ResetCause::from_bits((flags & CAUSE) >> 4);
        (flags & !(CAUSE | NUMBERLESS) == 0).then_some(Self {
            mine: u32::from_le_bytes(*mine),
            numberless: flags & NUMBERLESS != 0,
            cause,
            fingerprint: u32::from_le_bytes(*fingerprint),
            payload,
        })
    }

    /// What stands before the payload.
    #[must_use]
    pub const fn head(&self) -> [u8; ARRIVAL_HEAD] {
        let [a, b, c, d] = self.mine.to_le_bytes();
        let [e, f, g, h] = self.fingerprint.to_le_bytes();
        let numberless = if self.numberless { NUMBERLESS } else { 0 };
        [a, b, c, d, (self.cause as u8) << 4 | numberless, e, f, g, h]
    }
}

/// What the hub says of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Welcomed {
    /// The hub's program has the report.
    Taken {
        /// More waits for the leaf at the hub: it may open a session for it.
        more: bool,
    },
    /// Not taken: the agreements differ (W-30).
    Mismatch,
}

/// The hub's answer to an ARRIVAL.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct ArrivalAnswer {
    /// The own number of the ARRIVAL that it answers.
    pub mine: u32,
    /// What became of it.
    pub welcomed: Welcomed,
}

impl ArrivalAnswer {
    /// Reads a body; `None` if it is not of [`ARRIVAL_ANSWER_LEN`] octets or not an answer.
    #[must_use]
    pub fn parse(body: &[u8]) -> Option<Self> {
        let (mine, &[answer]) = body.split_first_chunk::<4>()? else { return None };
        let welcomed = match answer {
            0 => Welcomed::Taken { more: false },
            MORE => Welcomed::Taken { more: true },
            1 => Welcomed::Mismatch,
            _ => return None,
        };
        Some(Self { mine: u32::from_le_bytes(*mine), welcomed })
    }

    /// The body.
    #[must_use]
    pub const fn octets(&self) -> [u8; ARRIVAL_ANSWER_LEN] {
        let [a, b, c, d] = self.mine.to_le_bytes();
        let answer = match self.welcomed {
            Welcomed::Taken { more: false } => 0,
            Welcomed::Taken { more: true } => MORE,
            Welcomed::Mismatch => 1,
        };
        [a, b, c, d, answer]
    }

    /// Writes the whole frame to this leaf into `out`, in the framing of the medium (not [`Addressed`]: the addresses are put in here); gives its length, or zero if it
    /// does not fit. `lead` as for [`write()`](crate::frame::write).
    #[must_use]
    pub fn write<F: Framing, C: Fcs>(&self, framing: &F, leaf: u8, lead: Lead, out: &mut [u8]) -> usize {
        let framing = Addressed { framing: framing.clone(), own: 0, peer: leaf };
        extended::write::<_, C>(&framing, Arrival::CODE, &self.octets(), lead, out)
    }
}
