//! How the hub tells a leaf which frames to all are its own (W-70).

use super::{
    super::{Addressed, extended},
    BITS,
};
use crate::{
    fcs::Fcs,
    framing::{Framing, Lead},
};

/// Octets of the body.
pub const TOLD_LEN: usize = 9;

/// The body of TO ALL from the hub to a leaf: inside this session, these are the frames to all.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Told {
    /// The session of the leaf that it is for (W-23), 0..=0x3FFFF.
    pub session: u32,
    /// The hub's broadcast number, 0..=0x3FFFF.
    pub broadcast: u32,
    /// The sequence number that the next frame to all will have.
    pub next: u8,
}

impl Told {
    /// The code of the extension TO ALL.
    pub const CODE: u8 = 0x17;

    /// Reads a body; `None` if it is not of [`TOLD_LEN`] octets or a number is out of range.
    #[must_use]
    pub fn parse(body: &[u8]) -> Option<Self> {
        let (session, rest) = body.split_first_chunk::<4>()?;
        let (broadcast, &[next]) = rest.split_first_chunk::<4>()? else { return None };
        let told =
            Self { session: u32::from_le_bytes(*session), broadcast: u32::from_le_bytes(*broadcast), next };
        (told.session <= BITS && told.broadcast <= BITS).then_some(told)
    }

    /// The body.
    #[must_use]
    pub const fn octets(&self) -> [u8; TOLD_LEN] {
        let [a, b, c, d] = self.session.to_le_bytes();
        let [e, f, g, h] = self.broadcast.to_le_bytes();
        [a, b, c, d, e, f, g, h, self.next]
    }

    /// Writes the whole frame to this leaf into `out`, in the framing of the medium (not [`Addressed`](super::super::Addressed): the addresses are put in here); gives its length, or
    /// zero if it does not fit. `lead` as for [`write()`](crate::frame::write).
    #[must_use]
    pub fn write<F: Framing, C: Fcs>(&self, framing: &F, leaf: u8, lead: Lead, out: &mut [u8]) -> usize {
        let framing = Addressed { framing: framing.clone(), own: 0, peer: leaf };
        extended::write::<_, C>(&framing, Self::CODE, &self.octets(), lead, out)
    }
}
