//! Payload octets to values.

use super::{Field, Form, Scale, Value};
use std::borrow::Cow;

/// The fields of one message with their values, checked to fit the payload exactly.
#[derive(Debug, Clone)]
pub struct Values<'a> {
    fields: std::slice::Iter<'a, Field>,
    octets: &'a [u8],
}

impl<'a> Values<'a> {
    /// `None` if `octets` end inside a field, hold an impossible value, or are left over.
    pub(super) fn new(fields: &'a [Field], octets: &'a [u8]) -> Option<Self> {
        let mut rest = octets;
        for field in fields {
            read(&field.form, field.scale, &mut rest)?;
        }
        rest.is_empty().then_some(Self { fields: fields.iter(), octets })
    }
}

impl<'a> Iterator for Values<'a> {
    type Item = (&'a Field, Value<'a>);

    fn next(&mut self) -> Option<Self::Item> {
        let field = self.fields.next()?;
        Some((field, field.take(&mut self.octets)?))
    }
}

impl Field {
    /// The value at the start of `octets`, which are then what follows it. `None`, and nothing is to be made of `octets`, if they end inside
    /// the field or hold what its form cannot. A value outside the field's range is given all the same: see [`Field::allows`].
    #[must_use]
    pub fn take<'a>(&'a self, octets: &mut &'a [u8]) -> Option<Value<'a>> {
        read(&self.form, self.scale, octets)
    }
}

fn read<'a>(form: &'a Form, scale: Scale, octets: &mut &'a [u8]) -> Option<Value<'a>> {
    let number = |raw: i128| Some(Value::Number(scale.value(raw)));
    match form {
        Form::U8 => number(i128::from(take(octets)?)),
        Form::I8 => number(i128::from(take(octets)?.cast_signed())),
        Form::U16 => number(i128::from(unsigned(octets, 16)?)),
        Form::U32 => number(i128::from(unsigned(octets, 32)?)),
        Form::U64 => number(i128::from(unsigned(octets, 64)?)),
        Form::I16 => number(i128::from(signed(octets, 16)?)),
        Form::I32 => number(i128::from(signed(octets, 32)?)),
        Form::I64 => number(i128::from(signed(octets, 64)?)),
        Form::Bool => match take(octets)? {
            0 => Some(Value::Bool(false)),
            1 => Some(Value::Bool(true)),
            _ => None,
        },
        Form::F32 => Some(Value::Float(f32::from_le_bytes(array(octets)?))),
        Form::F64 => Some(Value::Double(f64::from_le_bytes(array(octets)?))),
        Form::Choice(words) => {
            let place = usize::try_from(unsigned(octets, 32)?).ok()?;
            words.get(place).map(|word| Value::Word(Cow::Borrowed(word)))
        }
        Form::Flags(8, names) => Some(Value::Flags(take(octets)?.into(), names)),
        Form::Flags(bits, names) => Some(Value::Flags(unsigned(octets, (*bits).into())?, names)),
        Form::Text(most) => {
            std::str::from_utf8(counted(octets, *most)?).ok().map(|text| Value::Text(Cow::Borrowed(text)))
        }
        Form::Octets(most) => counted(octets, *most).map(|octets| Value::Octets(Cow::Borrowed(octets))),
        Form::List(inner, count) => {
            (0..*count).map(|_| read(inner, scale, octets)).collect::<Option<_>>().map(Value::List)
        }
        Form::Optional(inner) => match take(octets)? {
            0 => Some(Value::Nothing),
            1 => read(inner, scale, octets),
            _ => None,
        },
    }
}

fn take(octets: &mut &[u8]) -> Option<u8> {
    let (&first, rest) = octets.split_first()?;
    *octets = rest;
    Some(first)
}

fn array<const N: usize>(octets: &mut &[u8]) -> Option<[u8; N]> {
    let (first, rest) = octets.split_first_chunk::<N>()?;
    *octets = rest;
    Some(*first)
}

/// A length and that many octets, at most `most`.
fn counted<'a>(octets: &mut &'a [u8], most: u16) -> Option<&'a [u8]> {
    let len = usize::try_from(unsigned(octets, 64)?).ok().filter(|&len| len <= usize::from(most))?;
    let (first, rest) = octets.split_at_checked(len)?;
    *octets = rest;
    Some(first)
}

/// A variable-length number: seven bits an octet, least significant first, at most `bits` bits.
fn unsigned(octets: &mut &[u8], bits: u32) -> Option<u64> {
    let mut value = 0_u64;
    let mut shift = 0;
    loop {
        let octet = take(octets)?;
        let part = u64::from(octet & 0x7F);
        if shift >= bits || (bits - shift < 7 && part >> (bits - shift) != 0) {
            return None;
        }
        value |= part << shift;
        if octet < 0x80 {
            return Some(value);
        }
        shift += 7;
    }
}

fn signed(octets: &mut &[u8], bits: u32) -> Option<i64> {
    let raw = unsigned(octets, bits)?;
    Some((raw >> 1).cast_signed() ^ -((raw & 1).cast_signed()))
}
