//! The bodies of JOIN and WELCOME (W-60).

use super::{NotSeated, Seated};
use crate::{
    fcs::Fcs,
    framing::{Framing, Lead},
    star::extended,
};

/// Octets of a JOIN.
pub const JOIN_LEN: usize = 11;

/// Octets of a WELCOME.
pub const WELCOME_LEN: usize = 18;

/// A board asks to be taken on the roster.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Join {
    /// Its long name.
    pub identity: u64,
    /// The address that is set on it by hand; 0: give me one.
    pub wanted: u8,
    /// How long it listens after each frame that it sends, ms; 0: always (W-61).
    pub awake: u16,
}

impl Join {
    /// The code of the extension JOIN.
    pub const CODE: u8 = 0x13;

    /// Reads a body; `None` if it is not [`JOIN_LEN`] octets long.
    #[must_use]
    pub fn parse(body: &[u8]) -> Option<Self> {
        let (identity, &[wanted, low, high]) = body.split_first_chunk::<8>()? else { return None };
        Some(Self { identity: u64::from_le_bytes(*identity), wanted, awake: u16::from_le_bytes([low, high]) })
    }

    /// The body.
    #[must_use]
    pub const fn octets(&self) -> [u8; JOIN_LEN] {
        let [a, b, c, d, e, f, g, h] = self.identity.to_le_bytes();
        let [low, high] = self.awake.to_le_bytes();
        [a, b, c, d, e, f, g, h, self.wanted, low, high]
    }

    /// Writes the whole frame into `out`, without addresses as it goes; gives its length, or zero if it does not fit. `lead` as for [`write()`](crate::frame::write).
    #[must_use]
    pub fn write<F: Framing, C: Fcs>(&self, framing: &F, lead: Lead, out: &mut [u8]) -> usize {
        extended::write::<F, C>(framing, Self::CODE, &self.octets(), lead, out)
    }
}

/// What the hub answers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Answer {
    /// Taken, at this address.
    Seated(u8),
    /// Every address is in use.
    Full,
    /// The address is that of the board with this identity.
    Held(u64),
    /// The hub has no such address, or the board no identity.
    Impossible,
}

/// The hub's answer to a JOIN.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Welcome {
    /// The board that it is for.
    pub identity: u64,
    /// What became of it.
    pub answer: Answer,
}

impl Welcome {
    /// The code of the extension WELCOME.
    pub const CODE: u8 = 0x14;

    /// The answer to the board `identity` for what [`Roster::join`](super::Roster::join) gave.
    #[must_use]
    pub fn of(identity: u64, joined: Result<Seated, NotSeated>) -> Self {
        let answer = match joined {
            Ok(seated) => Answer::Seated(seated.address()),
            Err(NotSeated::Full) => Answer::Full,
            Err(NotSeated::Held(clash)) => Answer::Held(clash.seated),
            Err(NotSeated::NoIdentity | NotSeated::NoSuchAddress) => Answer::Impossible,
        };
        Self { identity, answer }
    }

    /// Reads a body; `None` if it is not of [`WELCOME_LEN`] octets or not an answer.
    #[must_use]
    pub fn parse(body: &[u8]) -> Option<Self> {
        let (identity, rest) = body.split_first_chunk::<8>()?;
        let (&[code, address], holder) = rest.split_first_chunk::<2>()?;
        let holder = u64::from_le_bytes(holder.try_into().ok()?);
        let answer = match code {
            0 if (1..=250).contains(&address) => Answer::Seated(address),
            1 => Answer::Full,
            2 => Answer::Held(holder),
            3 => Answer::Impossible,
            _ => return None,
        };
        Some(Self { identity: u64::from_le_bytes(*identity), answer })
    }

    /// The body.
    #[must_use]
    pub fn octets(&self) -> [u8; WELCOME_LEN] {
        let (code, address, holder) = match self.answer {
            Answer::Seated(address) => (0, address, 0),
            Answer::Full => (1, 0, 0),
            Answer::Held(holder) => (2, 0, holder),
            Answer::Impossible => (3, 0, 0),
        };
        let mut octets = [0; WELCOME_LEN];
        let all =
            self.identity.to_le_bytes().into_iter().chain([code, address]).chain(u64::to_le_bytes(holder));
        octets.iter_mut().zip(all).for_each(|(cell, octet)| *cell = octet);
        octets
    }

    /// Writes the whole frame into `out`, without addresses as it goes; gives its length, or zero if it does not fit. `lead` as for [`write()`](crate::frame::write).
    #[must_use]
    pub fn write<F: Framing, C: Fcs>(&self, framing: &F, lead: Lead, out: &mut [u8]) -> usize {
        extended::write::<F, C>(framing, Self::CODE, &self.octets(), lead, out)
    }
}
