//! Message numbers: which kind of message a payload holds (W-18).

use super::Reject;

/// The largest message number: two octets of seven bits.
pub const MAX_MESSAGE_NUMBER: u16 = 16_383;

/// Which kind of message a payload holds: 0..=16383, the enum discriminant of the payload's postcard form.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct MessageNumber(u16);

impl MessageNumber {
    /// A message number; `None` above [`MAX_MESSAGE_NUMBER`].
    #[must_use]
    pub const fn new(number: u16) -> Option<Self> {
        if number <= MAX_MESSAGE_NUMBER { Some(Self(number)) } else { None }
    }

    /// The number.
    #[must_use]
    pub const fn get(self) -> u16 {
        self.0
    }

    /// Reads the number at the start of a payload; gives it and the octets after it.
    ///
    /// # Errors
    /// [`Reject::BadMessageNumber`] if it is missing, too large or not in the shortest form.
    pub const fn split(payload: &[u8]) -> Result<(Self, &[u8]), Reject> {
        match payload {
            [low, rest @ ..] if *low < 0x80 => Ok((Self(*low as u16), rest)),
            [low, high, rest @ ..] if *high != 0 && *high < 0x80 => {
                Ok((Self((*low as u16 & 0x7F) | ((*high as u16) << 7)), rest))
            }
            _ => Err(Reject::BadMessageNumber),
        }
    }

    /// As [`split`](Self::split), without the rest: in one place, for links.
    #[inline(never)]
    pub(crate) const fn of(payload: &[u8]) -> Option<Self> {
        match Self::split(payload) {
            Ok((number, _)) => Some(number),
            Err(_) => None,
        }
    }

    /// The wire form: one or two octets, the second `None` below 128.
    #[must_use]
    pub const fn octets(self) -> (u8, Option<u8>) {
        let [low, high] = (((self.0 << 1) & 0x7F00) | (self.0 & 0x7F)).to_le_bytes();
        if high == 0 { (low, None) } else { (low | 0x80, Some(high)) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_message_number_survives_and_only_the_shortest_form_is_taken() {
        for number in 0..=MAX_MESSAGE_NUMBER {
            let wanted = MessageNumber::new(number).unwrap();
            let (low, high) = wanted.octets();
            let wire: std::vec::Vec<u8> = core::iter::once(low).chain(high).chain([0xAA]).collect();
            assert_eq!(MessageNumber::split(&wire), Ok((wanted, &[0xAA][..])));
        }
        assert_eq!(MessageNumber::new(MAX_MESSAGE_NUMBER + 1), None);
        for bad in [&[][..], &[0x80], &[0x80, 0x00], &[0xFF, 0x80], &[0x80, 0x80, 0x01]] {
            assert_eq!(MessageNumber::split(bad), Err(Reject::BadMessageNumber), "{bad:02X?}");
        }
    }
}
