//! Short texts without a formatter: `core::fmt` would cost more flash than a whole link.

/// A text of at most `N` octets of ASCII. What does not fit is cut off.
#[derive(Debug, Clone)]
pub struct Text<const N: usize> {
    octets: [u8; N],
    len: usize,
}

impl<const N: usize> Text<N> {
    /// An empty text.
    #[must_use]
    pub const fn new() -> Self {
        Self { octets: [0; N], len: 0 }
    }

    /// This text and `more`.
    #[must_use]
    pub fn word(self, more: &str) -> Self {
        self.with(more.as_bytes())
    }

    /// This text and a number in decimal digits.
    #[must_use]
    pub fn number(self, number: i32) -> Self {
        let text = if number < 0 { self.word("-") } else { self };
        text.count(number.unsigned_abs())
    }

    /// This text and a number without sign.
    #[must_use]
    pub fn count(self, number: u32) -> Self {
        let mut digits = [b'0'; 10];
        let mut rest = number;
        let mut first = digits.len();
        for (place, digit) in digits.iter_mut().enumerate().rev() {
            *digit = b'0'.wrapping_add((rest % 10).to_le_bytes()[0]);
            rest /= 10;
            first = place;
            if rest == 0 {
                break;
            }
        }
        self.with(digits.get(first..).unwrap_or_default())
    }

    fn with(mut self, more: &[u8]) -> Self {
        let room = self.octets.get_mut(self.len..).unwrap_or_default();
        for (cell, octet) in room.iter_mut().zip(more) {
            *cell = *octet;
            self.len = self.len.wrapping_add(1);
        }
        self
    }

    /// The octets.
    #[must_use]
    pub fn octets(&self) -> &[u8] {
        self.octets.get(..self.len).unwrap_or_default()
    }
}

impl<const N: usize> Default for Text<N> {
    fn default() -> Self {
        Self::new()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::string::ToString;

    #[test]
    fn numbers_are_written_as_the_standard_formatter_writes_them() {
        for number in [0, 1, 9, 10, -10, 123_456, i32::MAX, i32::MIN] {
            assert_eq!(Text::<16>::new().number(number).octets(), number.to_string().as_bytes());
        }
        assert_eq!(Text::<16>::new().count(u32::MAX).octets(), b"4294967295");
    }

    #[test]
    fn what_does_not_fit_is_cut_off() {
        assert_eq!(Text::<8>::new().word("dome ").number(1234).word("!").octets(), b"dome 123");
    }
}
