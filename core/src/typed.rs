//! Payloads as Rust types: an `enum` with serde derives is the agreement, postcard its octets.
//!
//! The discriminant that serde gives a variant (its place in the enum, from 0) is the message number at the start of the payload (W-18).
//! A variant must therefore never be moved or removed, only added at the end. The wire form of the fields is the postcard wire format
//! (`spec/src/wire-format.md` of the postcard repository, stable since 1.0).
//!
//! [`read`] refuses octets left over after the value: they are the first sign of two boards with different agreements, and plain postcard would
//! ignore them. A number in a longer form than needed (`80 00` for 0) is taken, as the postcard format allows, but not as the message number.
//!
//! ```
//! use bellwire::typed;
//! use serde::{Deserialize, Serialize};
//!
//! #[derive(Debug, PartialEq, Serialize, Deserialize)]
//! enum Dome {
//!     Rate { rate: i16 },
//!     GoTo { azimuth: u16 },
//! }
//!
//! let mut buffer = [0; 8];
//! let payload = typed::write(&Dome::GoTo { azimuth: 300 }, &mut buffer)?;
//! assert_eq!(payload, [0x01, 0xAC, 0x02]);
//! assert_eq!(typed::read::<Dome>(payload)?, Dome::GoTo { azimuth: 300 });
//! assert_eq!(typed::read::<Dome>(&[0x01, 0xAC, 0x02, 0x00]), Err(typed::ReadError::LeftOver { octets: 1 }));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod writer;

use serde::{Deserialize, Serialize};

use crate::frame::MessageNumber;

use writer::Writer;

/// Why a value did not become a payload.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum WriteError {
    /// It does not fit the buffer.
    NoRoom,
    /// It does not start with a message number 0..=16383 (W-18): the type is no enum.
    NoMessageNumber,
    /// The type cannot be written: a sequence of unknown length, or its own `Serialize` failed.
    NotWritable,
}

/// Why a payload did not become a value.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ReadError {
    /// The message number is missing, too large or not in its shortest form (W-18).
    BadMessageNumber,
    /// The type has no variant of this number.
    UnknownMessage(MessageNumber),
    /// The payload ends inside a field.
    CutShort,
    /// A field holds what its type cannot: a bool that is neither 0 nor 1, text that is not UTF-8, a number too large.
    BadField,
    /// The value is complete and octets are left: the boards' agreements differ.
    LeftOver {
        /// How many.
        octets: u16,
    },
}

impl WriteError {
    /// In plain words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::NoRoom => "the message does not fit the buffer",
            Self::NoMessageNumber => "the type is not an enum of messages",
            Self::NotWritable => "the type cannot be written in the postcard format",
        }
    }
}

impl ReadError {
    /// In plain words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::BadMessageNumber => "no valid message number",
            Self::UnknownMessage(_) => "a message number that this agreement does not have",
            Self::CutShort => "the payload ends inside a field",
            Self::BadField => "a field holds what its type cannot",
            Self::LeftOver { .. } => "octets are left after the last field",
        }
    }
}

impl core::fmt::Display for WriteError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(self.words())
    }
}

impl core::fmt::Display for ReadError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(self.words())
    }
}

impl core::error::Error for WriteError {}
impl core::error::Error for ReadError {}

/// Writes a message into `buffer`; gives the payload, message number first.
///
/// # Errors
/// [`WriteError`]; what is in `buffer` is then undefined.
pub fn write<'b, M: Serialize + ?Sized>(message: &M, buffer: &'b mut [u8]) -> Result<&'b [u8], WriteError> {
    let mut writer = Writer::new(buffer);
    message.serialize(&mut writer)?;
    let payload = writer.written();
    MessageNumber::split(payload).map_err(|_| WriteError::NoMessageNumber)?;
    Ok(payload)
}

/// Reads a message from a payload, message number first. The value may borrow from the payload.
///
/// # Errors
/// [`ReadError`]; also if octets are left over.
pub fn read<'p, M: Deserialize<'p>>(payload: &'p [u8]) -> Result<M, ReadError> {
    let (number, fields) = MessageNumber::split(payload).map_err(|_| ReadError::BadMessageNumber)?;
    match postcard::take_from_bytes::<M>(payload) {
        Ok((message, [])) => Ok(message),
        Ok((_, rest)) => Err(ReadError::LeftOver { octets: u16::try_from(rest.len()).unwrap_or(u16::MAX) }),
        Err(postcard::Error::DeserializeUnexpectedEnd) => Err(ReadError::CutShort),
        Err(postcard::Error::SerdeDeCustom) => {
            // An unknown variant, of the message itself or of an enum among its fields: the number alone tells which.
            let head = payload.get(..payload.len().saturating_sub(fields.len())).unwrap_or(payload);
            match postcard::take_from_bytes::<M>(head) {
                Err(postcard::Error::SerdeDeCustom) => Err(ReadError::UnknownMessage(number)),
                _ => Err(ReadError::BadField),
            }
        }
        Err(_) => Err(ReadError::BadField),
    }
}

#[cfg(test)]
mod tests;
