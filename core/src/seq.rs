//! Serial numbers (RFC 1982) of at most eight bits.

use core::cmp::Ordering;

/// A sequence number in a space of 2^`BITS` numbers, 1..=8 bits; the wire uses eight, tests may use fewer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Serial<const BITS: u32 = 8>(u8);

impl<const BITS: u32> Serial<BITS> {
    const MASK: u8 = {
        assert!(BITS >= 1 && BITS <= 8, "a serial number has 1 to 8 bits");
        u8::MAX >> 8_u32.saturating_sub(BITS)
    };

    /// The number `number`, modulo the space.
    #[must_use]
    pub const fn new(number: u8) -> Self {
        Self(number & Self::MASK)
    }

    /// The number.
    #[must_use]
    pub const fn get(self) -> u8 {
        self.0
    }

    /// The number `count` further on, modulo the space (RFC 1982, section 3.1). For the result to compare as later, `count` must be
    /// at most 2^(BITS-1) - 1.
    #[must_use]
    pub const fn plus(self, count: u8) -> Self {
        Self::new(self.0.wrapping_add(count))
    }

    /// The number, which then counts one on.
    #[must_use]
    pub(crate) const fn take(&mut self) -> Self {
        let number = *self;
        *self = number.plus(1);
        number
    }

    /// How many steps lead forward from `earlier` to this number, 0..2^BITS.
    #[must_use]
    pub const fn since(self, earlier: Self) -> u8 {
        self.0.wrapping_sub(earlier.0) & Self::MASK
    }

    /// Which of two numbers is later (RFC 1982, section 3.2); `None` exactly half the space apart, where neither is.
    #[must_use]
    pub const fn compare(self, other: Self) -> Option<Ordering> {
        let ahead = self.since(other);
        let half = Self::MASK / 2;
        match ahead {
            0 => Some(Ordering::Equal),
            _ if ahead <= half => Some(Ordering::Greater),
            _ if ahead == half.wrapping_add(1) => None,
            _ => Some(Ordering::Less),
        }
    }

    /// Whether this number is later than `other`; a number half the space away is not.
    #[must_use]
    pub const fn is_newer_than(self, other: Self) -> bool {
        matches!(self.compare(other), Some(Ordering::Greater))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The definition of RFC 1982, section 3.2, word for word.
    fn by_the_book(bits: u32, i1: u32, i2: u32) -> Option<Ordering> {
        let half = 1 << (bits - 1);
        if i1 == i2 {
            Some(Ordering::Equal)
        } else if (i1 < i2 && i2 - i1 < half) || (i1 > i2 && i1 - i2 > half) {
            Some(Ordering::Less)
        } else if (i1 < i2 && i2 - i1 > half) || (i1 > i2 && i1 - i2 < half) {
            Some(Ordering::Greater)
        } else {
            None
        }
    }

    fn agrees_everywhere<const BITS: u32>() {
        let mut undefined = 0;
        for i1 in 0..=Serial::<BITS>::MASK {
            for i2 in 0..=Serial::<BITS>::MASK {
                let (s1, s2) = (Serial::<BITS>::new(i1), Serial::<BITS>::new(i2));
                assert_eq!(
                    s1.compare(s2),
                    by_the_book(BITS, i1.into(), i2.into()),
                    "{i1} {i2} of {BITS} bits"
                );
                undefined += u32::from(s1.compare(s2).is_none());
            }
        }
        assert_eq!(undefined, 1 << BITS, "pairs half the space apart");
    }

    #[test]
    fn every_pair_compares_as_rfc_1982_section_3_2_says() {
        agrees_everywhere::<2>();
        agrees_everywhere::<4>();
        agrees_everywhere::<8>();
    }

    #[test]
    fn the_examples_of_rfc_1982_section_5_hold() {
        let later = |a: u8, b: u8| Serial::<8>::new(a).is_newer_than(Serial::new(b));
        for (a, b) in [
            (1, 0),
            (44, 0),
            (100, 0),
            (100, 44),
            (200, 100),
            (255, 200),
            (0, 255),
            (100, 255),
            (0, 200),
            (44, 200),
        ] {
            assert!(later(a, b) && !later(b, a), "{a} > {b}");
        }
        assert_eq!(Serial::<8>::new(255).plus(1).get(), 0);
        assert_eq!(Serial::<8>::new(100).plus(100).get(), 200);
        assert_eq!(Serial::<8>::new(200).plus(100).get(), 44);
        let (three, zero) = (Serial::<2>::new(3), Serial::<2>::new(0));
        assert_eq!(three.plus(1), zero);
        assert!(zero.is_newer_than(three));
        for (a, b) in [(0, 2), (1, 3)] {
            assert_eq!(Serial::<2>::new(a).compare(Serial::new(b)), None);
        }
    }
}
