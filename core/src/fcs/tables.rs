//! Makes the tables, at compile time only: a mistake here is an error of the compiler, never a panic.
#![allow(clippy::indexing_slicing, clippy::arithmetic_side_effects, clippy::cast_possible_truncation)]

use super::{POLYNOMIAL_16, POLYNOMIAL_32};

macro_rules! tables {
    ($register:ty, $polynomial:expr, $table:ident, $slices:ident) => {
        /// What the low `bits` bits of the register become, for each of their `N` values.
        pub(super) const fn $table<const N: usize>(bits: u32) -> [$register; N] {
            let mut table = [0; N];
            let mut at = 0;
            while at < N {
                let mut entry = at as $register;
                let mut bit = 0;
                while bit < bits {
                    entry = entry >> 1 ^ if entry & 1 == 1 { $polynomial } else { 0 };
                    bit += 1;
                }
                table[at] = entry;
                at += 1;
            }
            table
        }

        /// Table k: what an octet makes of the register when k more octets follow.
        #[cfg(any(test, feature = "fcs-host"))]
        pub(super) const fn $slices() -> [[$register; 256]; 16] {
            let mut tables = [$table(8); 16];
            let mut follow = 1;
            while follow < 16 {
                let mut at = 0;
                while at < 256 {
                    let before = tables[follow - 1][at];
                    tables[follow][at] = before >> 8 ^ tables[0][(before & 0xFF) as usize];
                    at += 1;
                }
                follow += 1;
            }
            tables
        }
    };
}

tables!(u16, POLYNOMIAL_16, table_16, slices_16);
tables!(u32, POLYNOMIAL_32, table_32, slices_32);
