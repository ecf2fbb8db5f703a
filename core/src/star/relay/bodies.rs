//! What stands before a relayed message, and before its outcome (W-68).

use crate::{frame::MessageNumber, rules::holds};

/// The octets before a relayed message: the reserved message number 16382, what it is, the other leaf, and the name.
pub const RELAYED_LEN: usize = 5;

/// Message number 16382 in its two octets (W-18).
const BEGIN: [u8; 2] = [0xFE, 0x7F];

/// What became of a relayed message at the far leaf.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum FarOutcome {
    /// The far leaf has acknowledged it.
    Delivered,
    /// It did not leave the hub, for certain.
    NotSent,
    /// It may have arrived.
    Unknown,
}

/// What is relayed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Carried<'a> {
    /// A message, its own number first.
    Message(&'a [u8]),
    /// From the hub: what became of one.
    Outcome(FarOutcome),
}

/// The payload of an errand or report that travels from leaf to leaf by way of the hub.
///
/// ```
/// use bellwire::star::{Carried, Relayed};
///
/// let relayed = Relayed { other: 4, name: 7, carried: Carried::Message(&[3, 40]) };
/// let mut payload = [0; 16];
/// let len = relayed.write(&mut payload).unwrap();
/// assert_eq!(payload[..len], [0xFE, 0x7F, 0, 4, 7, 3, 40]);
/// assert_eq!(Relayed::parse(&payload[..len]), Ok(Some(relayed)));
/// assert_eq!(Relayed::parse(&[3, 40]), Ok(None), "most messages are not relayed");
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Relayed<'a> {
    /// To the hub: the address of the leaf that it is for. From the hub: of the one that it comes from, or of the one whose outcome it is.
    pub other: u8,
    /// What the first leaf calls it.
    pub name: u8,
    /// The message, or its outcome.
    pub carried: Carried<'a>,
}

/// A payload that begins like a relayed one and is none (W-68).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum NotRelayed {
    /// It ends too early, or goes on after an outcome.
    BadLength,
    /// The octet that tells what it is has a value without a meaning.
    NoSuchThing,
    /// The message in it has no number (W-18), or is a relayed one itself.
    BadMessage,
}

impl core::fmt::Display for NotRelayed {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(match self {
            Self::BadLength => "a relayed message of a wrong length",
            Self::NoSuchThing => "neither a relayed message nor its outcome",
            Self::BadMessage => "what is relayed is no message, or is relayed twice",
        })
    }
}

impl core::error::Error for NotRelayed {}

impl<'a> Relayed<'a> {
    /// Reads a payload; `None` if it is an ordinary one.
    ///
    /// # Errors
    /// Why it is not a relayed one, although it has the reserved message number.
    pub fn parse(payload: &'a [u8]) -> Result<Option<Self>, NotRelayed> {
        let Some(body) = payload.strip_prefix(&BEGIN) else { return Ok(None) };
        let Some((&[what, other, name], message)) = body.split_first_chunk::<3>() else {
            return Err(NotRelayed::BadLength);
        };
        let carried = match what {
            0 if message.is_empty() => return Err(NotRelayed::BadLength),
            0 => Carried::Message(message),
            1..=3 if !message.is_empty() => return Err(NotRelayed::BadLength),
            1 => Carried::Outcome(FarOutcome::Delivered),
            2 => Carried::Outcome(FarOutcome::NotSent),
            3 => Carried::Outcome(FarOutcome::Unknown),
            _ => return Err(NotRelayed::NoSuchThing),
        };
        let sound = MessageNumber::split(message).is_ok() && !message.starts_with(&BEGIN);
        if matches!(carried, Carried::Message(_)) && !sound && holds(68) {
            return Err(NotRelayed::BadMessage);
        }
        Ok(Some(Self { other, name, carried }))
    }

    /// Writes the payload into `out`; gives its length, `None` if it does not fit.
    #[must_use]
    pub fn write(&self, out: &mut [u8]) -> Option<usize> {
        let (what, message) = match self.carried {
            Carried::Message(message) => (0, message),
            Carried::Outcome(FarOutcome::Delivered) => (1, &[][..]),
            Carried::Outcome(FarOutcome::NotSent) => (2, &[][..]),
            Carried::Outcome(FarOutcome::Unknown) => (3, &[][..]),
        };
        let (head, rest) = out.split_first_chunk_mut::<RELAYED_LEN>()?;
        let [first, second] = BEGIN;
        *head = [first, second, what, self.other, self.name];
        rest.get_mut(..message.len())?.copy_from_slice(message);
        message.len().checked_add(RELAYED_LEN)
    }
}
