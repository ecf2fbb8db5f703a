//! Writes a value in the postcard wire format, without a panic path.
//!
//! The postcard crate's own serializer writes numbers by index into a small buffer, and the compiler keeps the check of that index: a board
//! that must link without any panic cannot use it. The format is the same; the tests compare the two octet by octet.

use core::fmt::{self, Write as _};

use serde::ser::{self, Serialize};

use super::WriteError;

/// Puts octets into a buffer, one behind the other.
#[derive(Debug)]
pub(super) struct Writer<'b> {
    buffer: &'b mut [u8],
    len: usize,
}

type Done = Result<(), WriteError>;

impl<'b> Writer<'b> {
    pub(super) const fn new(buffer: &'b mut [u8]) -> Self {
        Self { buffer, len: 0 }
    }

    /// What was written.
    pub(super) fn written(self) -> &'b [u8] {
        self.buffer.get(..self.len).unwrap_or_default()
    }

    fn octet(&mut self, octet: u8) -> Done {
        *self.buffer.get_mut(self.len).ok_or(WriteError::NoRoom)? = octet;
        self.len = self.len.saturating_add(1);
        Ok(())
    }

    fn octets(&mut self, octets: &[u8]) -> Done {
        octets.iter().try_for_each(|&octet| self.octet(octet))
    }

    /// Seven bits an octet, the lowest first; the top bit says that more follow ("varint" in the format's text).
    fn number(&mut self, mut number: u32) -> Done {
        while number >= 0x80 {
            self.octet(number.to_le_bytes()[0] | 0x80)?;
            number >>= 7;
        }
        self.octet(number.to_le_bytes()[0])
    }

    /// The same for what needs more than 32 bits, apart because it costs a small processor more.
    fn long_number(&mut self, mut number: u128) -> Done {
        while number >= 0x80 {
            self.octet(number.to_le_bytes()[0] | 0x80)?;
            number >>= 7;
        }
        self.octet(number.to_le_bytes()[0])
    }

    /// How many elements or octets follow.
    fn count(&mut self, count: Option<usize>) -> Done {
        let count = count.ok_or(WriteError::NotWritable)?;
        match u32::try_from(count) {
            Ok(count) => self.number(count),
            Err(_) => Err(WriteError::NoRoom),
        }
    }
}

/// Signs to the lowest bit: 0, -1, 1, -2 become 0, 1, 2, 3 ("zigzag" in the format's text).
const fn zigzag(number: i32) -> u32 {
    (number.cast_unsigned() << 1) ^ (number >> 31).cast_unsigned()
}

const fn long_zigzag(number: i128) -> u128 {
    (number.cast_unsigned() << 1) ^ (number >> 127).cast_unsigned()
}

impl ser::Error for WriteError {
    fn custom<T: fmt::Display>(_what: T) -> Self {
        Self::NotWritable
    }
}

/// Counts the octets of a text that only a formatter has.
struct Counter(usize);

impl fmt::Write for Counter {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        self.0 = self.0.saturating_add(text.len());
        Ok(())
    }
}

impl fmt::Write for Writer<'_> {
    fn write_str(&mut self, text: &str) -> fmt::Result {
        self.octets(text.as_bytes()).map_err(|_| fmt::Error)
    }
}

impl ser::Serializer for &mut Writer<'_> {
    type Ok = ();
    type Error = WriteError;
    type SerializeSeq = Self;
    type SerializeTuple = Self;
    type SerializeTupleStruct = Self;
    type SerializeTupleVariant = Self;
    type SerializeMap = Self;
    type SerializeStruct = Self;
    type SerializeStructVariant = Self;

    fn is_human_readable(&self) -> bool {
        false
    }

    fn serialize_bool(self, value: bool) -> Done {
        self.octet(value.into())
    }

    fn serialize_i8(self, value: i8) -> Done {
        self.octet(value.cast_unsigned())
    }

    fn serialize_i16(self, value: i16) -> Done {
        self.number(zigzag(value.into()))
    }

    fn serialize_i32(self, value: i32) -> Done {
        self.number(zigzag(value))
    }

    fn serialize_i64(self, value: i64) -> Done {
        self.long_number(long_zigzag(value.into()))
    }

    fn serialize_i128(self, value: i128) -> Done {
        self.long_number(long_zigzag(value))
    }

    fn serialize_u8(self, value: u8) -> Done {
        self.octet(value)
    }

    fn serialize_u16(self, value: u16) -> Done {
        self.number(value.into())
    }

    fn serialize_u32(self, value: u32) -> Done {
        self.number(value)
    }

    fn serialize_u64(self, value: u64) -> Done {
        self.long_number(value.into())
    }

    fn serialize_u128(self, value: u128) -> Done {
        self.long_number(value)
    }

    fn serialize_f32(self, value: f32) -> Done {
        self.octets(&value.to_le_bytes())
    }

    fn serialize_f64(self, value: f64) -> Done {
        self.octets(&value.to_le_bytes())
    }

    fn serialize_char(self, value: char) -> Done {
        self.count(Some(value.len_utf8()))?;
        self.write_char(value).map_err(|_| WriteError::NoRoom)
    }

    fn serialize_str(self, value: &str) -> Done {
        self.serialize_bytes(value.as_bytes())
    }

    fn serialize_bytes(self, value: &[u8]) -> Done {
        self.count(Some(value.len()))?;
        self.octets(value)
    }

    fn serialize_none(self) -> Done {
        self.octet(0)
    }

    fn serialize_some<T: Serialize + ?Sized>(self, value: &T) -> Done {
        self.octet(1)?;
        value.serialize(self)
    }

    fn serialize_unit(self) -> Done {
        Ok(())
    }

    fn serialize_unit_struct(self, _name: &'static str) -> Done {
        Ok(())
    }

    fn serialize_unit_variant(self, _name: &'static str, index: u32, _variant: &'static str) -> Done {
        self.number(index)
    }

    fn serialize_newtype_struct<T: Serialize + ?Sized>(self, _name: &'static str, value: &T) -> Done {
        value.serialize(self)
    }

    fn serialize_newtype_variant<T: Serialize + ?Sized>(
        self,
        _name: &'static str,
        index: u32,
        _variant: &'static str,
        value: &T,
    ) -> Done {
        self.number(index)?;
        value.serialize(self)
    }

    fn serialize_seq(self, len: Option<usize>) -> Result<Self, WriteError> {
        self.count(len)?;
        Ok(self)
    }

    fn serialize_tuple(self, _len: usize) -> Result<Self, WriteError> {
        Ok(self)
    }

    fn serialize_tuple_struct(self, _name: &'static str, _len: usize) -> Result<Self, WriteError> {
        Ok(self)
    }

    fn serialize_tuple_variant(
        self,
        _name: &'static str,
        index: u32,
        _variant: &'static str,
        _len: usize,
    ) -> Result<Self, WriteError> {
        self.number(index)?;
        Ok(self)
    }

    fn serialize_map(self, len: Option<usize>) -> Result<Self, WriteError> {
        self.count(len)?;
        Ok(self)
    }

    fn serialize_struct(self, _name: &'static str, _len: usize) -> Result<Self, WriteError> {
        Ok(self)
    }

    fn serialize_struct_variant(
        self,
        _name: &'static str,
        index: u32,
        _variant: &'static str,
        _len: usize,
    ) -> Result<Self, WriteError> {
        self.number(index)?;
        Ok(self)
    }

    fn collect_str<T: fmt::Display + ?Sized>(self, value: &T) -> Done {
        // The length goes first, so the text is made twice.
        let mut counter = Counter(0);
        write!(counter, "{value}").map_err(|_| WriteError::NotWritable)?;
        self.count(Some(counter.0))?;
        let start = self.len;
        let formatted = write!(self, "{value}");
        match formatted {
            Ok(()) if self.len.saturating_sub(start) == counter.0 => Ok(()),
            Err(_) if self.len == self.buffer.len() => Err(WriteError::NoRoom),
            _ => Err(WriteError::NotWritable),
        }
    }
}

/// What stands in a compound value is written where it stands: no compound needs more than its parts.
macro_rules! compound {
    ($($compound:ident $part:ident($($name:ident)?)),* $(,)?) => {$(
        impl ser::$compound for &mut Writer<'_> {
            type Ok = ();
            type Error = WriteError;

            fn $part<T: Serialize + ?Sized>(&mut self, $($name: &'static str,)? value: &T) -> Done {
                value.serialize(&mut **self)
            }

            fn end(self) -> Done {
                Ok(())
            }
        }
    )*};
}

compound! {
    SerializeSeq serialize_element(),
    SerializeTuple serialize_element(),
    SerializeTupleStruct serialize_field(),
    SerializeTupleVariant serialize_field(),
    SerializeStruct serialize_field(_name),
    SerializeStructVariant serialize_field(_name),
}

impl ser::SerializeMap for &mut Writer<'_> {
    type Ok = ();
    type Error = WriteError;

    fn serialize_key<T: Serialize + ?Sized>(&mut self, key: &T) -> Done {
        key.serialize(&mut **self)
    }

    fn serialize_value<T: Serialize + ?Sized>(&mut self, value: &T) -> Done {
        value.serialize(&mut **self)
    }

    fn end(self) -> Done {
        Ok(())
    }
}
