//! Time stamps of a capture: the unit and offset of a port, to nanoseconds since the Unix epoch and nothing else.

/// Unit and offset of the time stamps of a port.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Unit {
    /// Parts of a second: units in one second.
    a_second: u128,
    /// Seconds to add.
    offset: i64,
}

impl Default for Unit {
    /// Microseconds, which hold where a port names no unit (draft-ietf-opsawg-pcapng, `if_tsresol`).
    fn default() -> Self {
        Unit { a_second: 1_000_000, offset: 0 }
    }
}

impl Unit {
    /// Takes the octet of `if_tsresol`: a power of ten below a second, of two if the highest bit is set.
    /// A unit too fine for 64 bits is refused.
    #[must_use]
    pub fn with_resolution(self, octet: u8) -> Option<Self> {
        let base: u128 = if octet & 0x80 == 0 { 10 } else { 2 };
        let a_second = base.checked_pow(u32::from(octet & 0x7F)).filter(|units| *units <= 1 << 64)?;
        Some(Unit { a_second, ..self })
    }

    /// Takes the seconds of `if_tsoffset`.
    #[must_use]
    pub const fn with_offset(self, offset: i64) -> Self {
        Unit { offset, ..self }
    }

    /// Nanoseconds since the Unix epoch, held inside 0 to 2^64 - 1.
    #[must_use]
    pub fn nanoseconds(self, stamp: u64) -> u64 {
        if self.a_second == 1_000_000_000 && self.offset == 0 {
            return stamp;
        }
        let since = u128::from(stamp) * 1_000_000_000 / self.a_second;
        let since = i128::try_from(since).unwrap_or(i128::MAX);
        let whole = since.saturating_add(i128::from(self.offset) * 1_000_000_000);
        u64::try_from(whole.max(0)).unwrap_or(u64::MAX)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_unit_becomes_nanoseconds() {
        let ns = |octet: u8, stamp: u64| Unit::default().with_resolution(octet).unwrap().nanoseconds(stamp);
        assert_eq!(Unit::default().nanoseconds(1_700_000_000_123_456), 1_700_000_000_123_456_000);
        assert_eq!(ns(9, 1_700_000_000_123_456_789), 1_700_000_000_123_456_789);
        assert_eq!(ns(0, 1_700_000_000), 1_700_000_000_000_000_000);
        assert_eq!(ns(3, 1_500), 1_500_000_000);
        assert_eq!(ns(12, 1_999), 1);
        assert_eq!(ns(0x80 | 10, 1_024), 1_000_000_000);
        assert_eq!(ns(0x80 | 20, 1), 953); // 953.67 cut
        assert_eq!(ns(0, u64::MAX), u64::MAX);
        assert_eq!(Unit::default().with_resolution(20), None);
        assert_eq!(Unit::default().with_resolution(0x80 | 65), None);
    }

    #[test]
    fn the_offset_is_added_in_seconds() {
        assert_eq!(Unit::default().with_offset(10).nanoseconds(1), 10_000_001_000);
        assert_eq!(Unit::default().with_offset(-10).nanoseconds(1), 0);
        assert_eq!(Unit::default().with_offset(i64::MIN).nanoseconds(u64::MAX), 0);
    }
}
