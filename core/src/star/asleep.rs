//! What a leaf keeps over deep sleep: 16 octets.

use crate::fcs::{Fcs, Fcs16};

/// Octets of the saved state.
pub const ASLEEP_LEN: usize = 16;

const VERSION: u8 = 2;

/// The largest short address of a leaf (W-60).
const LAST_ADDRESS: u8 = 250;

/// A session over deep sleep: with this a leaf goes on in it without an opening. [`Leaf::fall_asleep`](super::Leaf::fall_asleep) and [`Link::fall_asleep`](crate::link::Link::fall_asleep) give
/// it, [`Leaf::resume`](super::Leaf::resume) and [`Link::resume`](crate::link::Link::resume) take it. What was unconfirmed when it fell asleep is *unknown*, and its numbers are sent as
/// voids (W-37); everything else of a link is made anew.
///
/// It is good for one life: see [`take`](Self::take).
///
/// With the feature `postcard` it can be a part of what a program saves with serde: as its 16 octets, check and version included.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Asleep {
    /// The own number (W-22).
    pub mine: u32,
    /// The hub's.
    pub theirs: u32,
    /// The lowest number not acknowledged.
    pub base: u8,
    /// How many from there were sent: 0..=8, the void ones of the next life.
    pub unconfirmed: u8,
    /// The next number waited for.
    pub next: u8,
    /// The short address of a leaf, 1..=250; 0: a link between two boards.
    pub address: u8,
    /// The next set-point number out.
    pub set_point_out: u8,
    /// The last set-point number in.
    pub set_point_in: u8,
}

impl Asleep {
    /// The octets to keep, with version and check. `None` if more than 8 are unconfirmed, which no window allows, or the address is above 250.
    #[must_use]
    pub fn octets(&self) -> Option<[u8; ASLEEP_LEN]> {
        if self.unconfirmed > 8 || self.address > LAST_ADDRESS {
            return None;
        }
        let [m0, m1, m2, m3] = self.mine.to_le_bytes();
        let [t0, t1, t2, t3] = self.theirs.to_le_bytes();
        let head = VERSION << 4 | self.unconfirmed;
        let Self { base, next, address, set_point_out, set_point_in, .. } = *self;
        let body = [head, m0, m1, m2, m3, t0, t1, t2, t3, base, next, address, set_point_out, set_point_in];
        let [low, high, ..] = Fcs16::octets(Fcs16::update(Fcs16::INIT, &body));
        let [a, b, c, d, e, f, g, h, i, j, k, l, m, n] = body;
        Some([a, b, c, d, e, f, g, h, i, j, k, l, m, n, low, high])
    }

    /// Reads them back and blanks them, so that no second life goes on from them: its numbers would be known to the hub, and what it sends under them taken for a repeat and lost.
    /// Where a copy lies in storage that outlives a reset, write the blank there before the first frame goes out.
    #[must_use = "the octets are blank now"]
    pub fn take(octets: &mut [u8; ASLEEP_LEN]) -> Option<Self> {
        Self::read(&core::mem::replace(octets, [0; ASLEEP_LEN]))
    }

    /// Reads them back; `None` if they are damaged, never written, or of another version: open a session then.
    #[must_use]
    pub fn read(octets: &[u8; ASLEEP_LEN]) -> Option<Self> {
        if Fcs16::update(Fcs16::INIT, octets) != Fcs16::RESIDUE {
            return None;
        }
        let [head, m0, m1, m2, m3, t0, t1, t2, t3, base, next, address, set_point_out, set_point_in, _, _] =
            *octets;
        (head >> 4 == VERSION && head & 15 <= 8 && address <= LAST_ADDRESS).then_some(Self {
            mine: u32::from_le_bytes([m0, m1, m2, m3]),
            theirs: u32::from_le_bytes([t0, t1, t2, t3]),
            base,
            unconfirmed: head & 15,
            next,
            address,
            set_point_out,
            set_point_in,
        })
    }
}

#[cfg(feature = "postcard")]
impl serde::Serialize for Asleep {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let octets = self.octets();
        octets
            .ok_or_else(|| serde::ser::Error::custom("no window or address allows this"))?
            .serialize(serializer)
    }
}

#[cfg(feature = "postcard")]
impl<'de> serde::Deserialize<'de> for Asleep {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let octets = <[u8; ASLEEP_LEN]>::deserialize(deserializer)?;
        let damaged =
            || serde::de::Error::custom("a saved session that is damaged, blank or of another version");
        Self::read(&octets).ok_or_else(damaged)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Written by hand; the check is CRC-16/IBM-SDLC (W-11) over the first 14 octets, computed bit by bit here.
    #[test]
    fn the_octets_lie_where_they_are_written_down() {
        let asleep = Asleep {
            mine: 0x0403_0201,
            theirs: 0x0807_0605,
            base: 9,
            unconfirmed: 2,
            next: 10,
            address: 11,
            set_point_out: 12,
            set_point_in: 13,
        };
        let octets = asleep.octets().unwrap();
        assert_eq!(octets[..14], [0x22, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13]);
        let mut register = 0xFFFF_u16;
        for octet in &octets[..14] {
            register ^= u16::from(*octet);
            for _ in 0..8 {
                register = if register & 1 == 1 { register >> 1 ^ 0x8408 } else { register >> 1 };
            }
        }
        assert_eq!(octets[14..], (!register).to_le_bytes());
        assert_eq!(Asleep { unconfirmed: 9, ..asleep }.octets(), None);
        assert_eq!(Asleep { address: 251, ..asleep }.octets(), None);
        let mut kept = octets;
        assert_eq!(Asleep::take(&mut kept), Some(asleep));
        assert_eq!(Asleep::take(&mut kept), None, "it is good for one life");
        for blank in [[0x00; ASLEEP_LEN], [0xFF; ASLEEP_LEN]] {
            assert_eq!(Asleep::read(&blank), None, "storage that was never written");
        }
    }

    #[cfg(feature = "postcard")]
    #[test]
    fn serde_keeps_the_sixteen_octets_and_their_check() {
        let (mine, theirs) = (7, 9);
        let zero = Asleep {
            mine,
            theirs,
            base: 0,
            unconfirmed: 0,
            next: 0,
            address: 3,
            set_point_out: 0,
            set_point_in: 0,
        };
        let mut octets = zero.octets().unwrap();
        assert_eq!(postcard::to_slice(&zero, &mut [0; 20]).unwrap(), octets);
        assert_eq!(postcard::from_bytes::<Asleep>(&octets), Ok(zero));
        octets[5] ^= 1;
        assert!(postcard::from_bytes::<Asleep>(&octets).is_err());
        assert!(postcard::to_slice(&Asleep { unconfirmed: 9, ..zero }, &mut [0; 20]).is_err());
    }

    proptest! {
        #[test]
        fn it_reads_back_and_no_bit_may_change(
            mine: u32, theirs: u32, base: u8, unconfirmed in 0_u8..=8, next: u8, address in 0_u8..=250, set_point_out: u8, set_point_in: u8,
            bit in 0..ASLEEP_LEN * 8,
        ) {
            let asleep = Asleep { mine, theirs, base, unconfirmed, next, address, set_point_out, set_point_in };
            let mut octets = asleep.octets().unwrap();
            prop_assert_eq!(Asleep::read(&octets), Some(asleep));
            octets[bit / 8] ^= 1 << (bit % 8);
            prop_assert_eq!(Asleep::read(&octets), None);
        }
    }
}
