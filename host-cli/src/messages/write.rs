//! Values by name to payload octets.

use super::{Decimal, Field, Form, MessageKind, Range, nearest};

/// Why a message could not be written from its words.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum WriteError {
    /// The message has no field of this name; the fields it has.
    NoSuchField(String, Vec<String>),
    /// No value was given for this field.
    Missing(String),
    /// The value does not suit the field: field, value, what it takes.
    BadValue(String, String, String),
    /// The field is named twice.
    Twice(String),
}

impl std::fmt::Display for WriteError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::NoSuchField(name, has) if has.is_empty() => {
                write!(f, "no field '{name}': this message has none")
            }
            Self::NoSuchField(name, has) => {
                write!(f, "no field '{name}'")?;
                if let Some(near) = nearest(name, has.iter().map(String::as_str)) {
                    write!(f, ", did you mean '{near}'?")?;
                }
                write!(f, ": the fields are {}", has.join(", "))
            }
            Self::Missing(name) => write!(f, "field '{name}' is missing"),
            Self::BadValue(name, value, takes) => {
                write!(f, "field '{name}' cannot be '{value}': it takes {takes}")
            }
            Self::Twice(name) => write!(f, "field '{name}' is given twice"),
        }
    }
}

impl std::error::Error for WriteError {}

impl MessageKind {
    /// The payload (message number first) made of named values such as `("rate", "1.25")`, in any order. An optional field that is not named
    /// is not there.
    ///
    /// # Errors
    /// [`WriteError`] where a field is missing, not known, or its value is out of range.
    pub fn write(&self, values: &[(&str, &str)]) -> Result<Vec<u8>, WriteError> {
        for (index, (name, _)) in values.iter().enumerate() {
            if !self.fields.iter().any(|field| field.name == *name) {
                let has = self.fields.iter().map(|field| field.name.clone()).collect();
                return Err(WriteError::NoSuchField((*name).to_owned(), has));
            }
            if values.iter().take(index).any(|(before, _)| before == name) {
                return Err(WriteError::Twice((*name).to_owned()));
            }
        }
        let mut out = Vec::new();
        put_unsigned(u64::from(self.number), &mut out);
        for field in &self.fields {
            let given = values.iter().find(|(name, _)| field.name == *name).map(|(_, value)| *value);
            let value = match (given, &field.form) {
                (Some(value), _) => value,
                (None, Form::Optional(_)) => "none",
                (None, _) => return Err(WriteError::Missing(field.name.clone())),
            };
            field
                .write(value, &mut out)
                .ok_or_else(|| WriteError::BadValue(field.name.clone(), value.to_owned(), field.takes()))?;
        }
        Ok(out)
    }
}

impl Field {
    /// Appends the octets of a value given as text; `None`, and nothing is to be made of `out`, if the field does not take it.
    #[must_use]
    pub fn write(&self, value: &str, out: &mut Vec<u8>) -> Option<()> {
        self.write_form(&self.form, value, out)
    }

    fn write_form(&self, form: &Form, value: &str, out: &mut Vec<u8>) -> Option<()> {
        match form {
            Form::Bool => out.push(u8::from(value.parse::<bool>().ok()?)),
            Form::F32 => {
                let number = value.parse::<f32>().ok()?;
                self.in_float_range(number.into())?;
                out.extend_from_slice(&number.to_le_bytes());
            }
            Form::F64 => {
                let number = value.parse::<f64>().ok()?;
                self.in_float_range(number)?;
                out.extend_from_slice(&number.to_le_bytes());
            }
            Form::Choice(words) => {
                put_unsigned(words.iter().position(|word| word == value)? as u64, out);
            }
            Form::Flags(bits, names) => {
                let set = flags(value, names)?;
                if *bits == 8 { out.push(u8::try_from(set).ok()?) } else { put_unsigned(set, out) }
            }
            Form::Text(most) => put_counted(value.as_bytes(), *most, out)?,
            Form::Octets(most) => {
                put_counted(&hex(value)?, *most, out)?;
            }
            Form::List(inner, count) => {
                let inside = value.strip_prefix('[').and_then(|rest| rest.strip_suffix(']')).unwrap_or(value);
                let values: Vec<_> = inside.split(',').map(str::trim).collect();
                if values.len() != usize::from(*count) {
                    return None;
                }
                return values.into_iter().try_for_each(|value| self.write_form(inner, value, out));
            }
            Form::Optional(_) if value == "none" => out.push(0),
            Form::Optional(inner) => {
                out.push(1);
                return self.write_form(inner, value, out);
            }
            whole => {
                let raw = self.scale.raw(Decimal::read(value)?)?;
                let (low, high) = self.whole_range(whole);
                return put_whole(whole, Some(raw).filter(|raw| (low..=high).contains(raw))?, out);
            }
        }
        Some(())
    }

    fn in_float_range(&self, number: f64) -> Option<()> {
        match self.range {
            Some(Range::Float(low, high)) => (low..=high).contains(&number).then_some(()),
            _ => Some(()),
        }
    }
}

fn put_whole(form: &Form, raw: i128, out: &mut Vec<u8>) -> Option<()> {
    match form {
        Form::U8 => out.push(u8::try_from(raw).ok()?),
        Form::I8 => out.push(i8::try_from(raw).ok()?.cast_unsigned()),
        Form::U16 | Form::U32 | Form::U64 => put_unsigned(u64::try_from(raw).ok()?, out),
        _ => put_signed(i64::try_from(raw).ok()?, out),
    }
    Some(())
}

/// `rain+mains` as bits. Bits without a name cannot be set.
fn flags(value: &str, names: &[String]) -> Option<u64> {
    if value == "none" {
        return Some(0);
    }
    value.split('+').try_fold(0, |set, word| {
        let bit = names.iter().position(|name| name == word)?;
        Some(set | 1_u64.checked_shl(u32::try_from(bit).ok()?)?)
    })
}

/// Hex digits, two an octet, with or without blanks between octets.
fn hex(text: &str) -> Option<Vec<u8>> {
    let mut octets = Vec::with_capacity(text.len() / 2);
    for word in text.split_ascii_whitespace() {
        for pair in word.as_bytes().chunks(2) {
            let [high, low] = pair else { return None };
            let digit = |digit: u8| char::from(digit).to_digit(16);
            octets.push(u8::try_from(digit(*high)? << 4 | digit(*low)?).ok()?);
        }
    }
    Some(octets)
}

fn put_counted(octets: &[u8], most: u16, out: &mut Vec<u8>) -> Option<()> {
    if octets.len() > usize::from(most) {
        return None;
    }
    put_unsigned(octets.len() as u64, out);
    out.extend_from_slice(octets);
    Some(())
}

pub(super) fn put_unsigned(mut value: u64, out: &mut Vec<u8>) {
    while value >= 0x80 {
        out.push((value & 0x7F) as u8 | 0x80);
        value >>= 7;
    }
    out.push((value & 0x7F) as u8);
}

fn put_signed(value: i64, out: &mut Vec<u8>) {
    put_unsigned(((value << 1) ^ (value >> 63)).cast_unsigned(), out);
}
