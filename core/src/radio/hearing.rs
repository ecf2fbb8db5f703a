//! What a board tells of what it hears, in front of a report (W-66).

/// The octets in front of the message: the reserved message number 16383, then the body.
pub const HEARING_LEN: usize = 8;

/// Message number 16383 in its two octets (W-18).
const BEGIN: [u8; 2] = [0xFF, 0x7F];

/// The age of something that never was.
const NEVER: u8 = 255;
/// The strength that is not told.
const NOT_TOLD: u8 = 255;

/// What the sender of a report hears of the other side.
///
/// ```
/// use bellwire::radio::Hearing;
///
/// let hearing = Hearing { sent: 300, heard: 12, age: Some(4), strength: Some(-93) };
/// let mut report = [0; 32];
/// let len = hearing.put_before(&[7, 0x19], &mut report).unwrap();
/// assert_eq!(report[..len], [0xFF, 0x7F, 0x2C, 0x01, 12, 0, 4, 93, 7, 0x19]);
/// assert_eq!(Hearing::split(&report[..len]), Ok((Some(hearing), &[7, 0x19][..])));
/// assert_eq!(Hearing::split(&[7, 0x19]), Ok((None, &[7, 0x19][..])), "most reports have none");
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Hearing {
    /// Frames that its sender has sent to the other side in this session, this one included, mod 65536.
    pub sent: u16,
    /// Frames of the other side that it has heard in this session, mod 65536.
    pub heard: u16,
    /// Seconds since it heard the last of them, at most 254 (which means so many or more); `None`: it never did.
    pub age: Option<u8>,
    /// How strong that one was, dBm (-254..=0; others are written as the nearest), if its radio tells.
    pub strength: Option<i16>,
}

/// A report that begins like one with a hearing and has none (W-66).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum NotHearing {
    /// It ends inside.
    TooShort,
    /// Nothing was ever heard, and yet it has a strength.
    StrengthOfNothing,
}

impl core::fmt::Display for NotHearing {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(match self {
            Self::TooShort => "the report ends inside its hearing",
            Self::StrengthOfNothing => "a strength of something that was never heard",
        })
    }
}

impl core::error::Error for NotHearing {}

impl Hearing {
    /// The octets in front of the message.
    #[must_use]
    pub fn octets(&self) -> [u8; HEARING_LEN] {
        let [a, b] = self.sent.to_le_bytes();
        let [c, d] = self.heard.to_le_bytes();
        let strength = self
            .strength
            .filter(|_| self.age.is_some())
            .map_or(NOT_TOLD, |dbm| u8::try_from(dbm.clamp(-254, 0).unsigned_abs()).unwrap_or(NOT_TOLD));
        let age = self.age.map_or(NEVER, |age| age.min(254));
        let [x, y] = BEGIN;
        [x, y, a, b, c, d, age, strength]
    }

    /// Puts it before a message; gives the octets written, `None` if `out` is too short.
    #[must_use]
    pub fn put_before(&self, message: &[u8], out: &mut [u8]) -> Option<usize> {
        let (head, rest) = out.split_first_chunk_mut::<HEARING_LEN>()?;
        *head = self.octets();
        rest.get_mut(..message.len())?.copy_from_slice(message);
        HEARING_LEN.checked_add(message.len())
    }

    /// The hearing in front of a message, if there is one, and the message: nothing where a board told only what it hears.
    ///
    /// # Errors
    /// [`NotHearing`]: what is wrong.
    pub fn split(payload: &[u8]) -> Result<(Option<Self>, &[u8]), NotHearing> {
        if !payload.starts_with(&BEGIN) {
            return Ok((None, payload));
        }
        let (&[_, _, a, b, c, d, age, strength], message) =
            payload.split_first_chunk::<HEARING_LEN>().ok_or(NotHearing::TooShort)?;
        if age == NEVER && strength != NOT_TOLD && crate::rules::holds(66) {
            return Err(NotHearing::StrengthOfNothing);
        }
        let hearing = Self {
            sent: u16::from_le_bytes([a, b]),
            heard: u16::from_le_bytes([c, d]),
            age: Some(age).filter(|age| *age != NEVER),
            strength: Some(strength)
                .filter(|octet| *octet != NOT_TOLD)
                .map(|octet| i16::from(octet).wrapping_neg()),
        };
        Ok((Some(hearing), message))
    }
}
