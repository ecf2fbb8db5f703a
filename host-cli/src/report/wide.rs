//! The 16-bit FCS for long captures: sixteen octets a step, also for what is left at the end, so that the length of a frame, which
//! differs from frame to frame, costs no wrong guesses of the processor. A test holds it to [`Fcs16`].

use bellwire::fcs::{Fcs, Fcs16};

/// CRC-16/IBM-SDLC, as [`Fcs16`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub(super) struct Wide16;

/// Octets of a step.
const STEP: usize = 16;

/// Table k: what an octet makes of the register when k more octets follow (Kounavis and Berry, IEEE Transactions on Computers
/// 57(11), 2008).
static TABLES: [[u16; 256]; STEP] = tables();

#[allow(clippy::cast_possible_truncation)]
const fn tables() -> [[u16; 256]; STEP] {
    let mut tables = [[0; 256]; STEP];
    let mut octet = 0;
    while octet < 256 {
        let mut register = octet as u16;
        let mut bit = 0;
        while bit < 8 {
            // The polynomial 0x1021 with its bits reversed (RFC 1662 section C.1).
            register = register >> 1 ^ if register & 1 == 1 { 0x8408 } else { 0 };
            bit += 1;
        }
        tables[0][octet] = register;
        octet += 1;
    }
    let mut k = 1;
    while k < STEP {
        let mut octet = 0;
        while octet < 256 {
            let before = tables[k - 1][octet];
            tables[k][octet] = before >> 8 ^ tables[0][(before & 0xFF) as usize];
            octet += 1;
        }
        k += 1;
    }
    tables
}

/// One step from a register of zero; the register before it has been added to the first octets.
#[inline(always)]
fn step(octets: u128) -> u16 {
    let octets = octets.to_le_bytes();
    let mut sum = 0;
    for (octet, table) in octets.iter().zip(TABLES.iter().rev()) {
        sum ^= table[usize::from(*octet)];
    }
    sum
}

impl Fcs for Wide16 {
    const LEN: usize = Fcs16::LEN;
    const NAME: &'static str = Fcs16::NAME;
    const INIT: u32 = Fcs16::INIT;
    const RESIDUE: u32 = Fcs16::RESIDUE;

    #[inline]
    #[allow(clippy::cast_possible_truncation)]
    fn update(state: u32, more: &[u8]) -> u32 {
        let Some(last) = more.last_chunk::<STEP>() else { return Fcs16::update(state, more) };
        let mut state = state as u16;
        let (steps, rest) = more.as_chunks::<STEP>();
        for octets in steps {
            state = step(u128::from_le_bytes(*octets) ^ u128::from(state));
        }
        // Of the last sixteen octets those that are done are made zero: a register of zero stays zero over them. The register is
        // added after them; what of it does not fit any more waits for octets to come.
        let left = rest.len() as u32;
        let done = 8 * (STEP as u32 - left);
        let keep =
            |octets: u128| octets.checked_shr(done).and_then(|kept| kept.checked_shl(done)).unwrap_or(0);
        let added = u128::from(state).checked_shl(done).unwrap_or(0);
        u32::from(step(keep(u128::from_le_bytes(*last)) ^ added) ^ state.checked_shr(8 * left).unwrap_or(0))
    }

    fn octets(state: u32) -> [u8; 4] {
        Fcs16::octets(state)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_to_the_core_for_every_length_and_start() {
        let octets: Vec<u8> = (0..300_u32).map(|n| (n.wrapping_mul(2_654_435_761) >> 24) as u8).collect();
        for len in 0..octets.len() {
            for state in [Wide16::INIT, 0, 0x1234, 0xFF00, 0x00FF] {
                let octets = &octets[..len];
                assert_eq!(
                    Wide16::update(state, octets),
                    Fcs16::update(state, octets),
                    "{len} octets from {state:04x}"
                );
            }
        }
        // RFC 1662 C.2 and the RevEng catalogue: CRC-16/IBM-SDLC, check 0x906E.
        assert_eq!(Wide16::octets(Wide16::update(Wide16::INIT, b"123456789"))[..2], [0x6E, 0x90]);
    }
}
