//! Values by name to payload octets.

use super::{Field, Form, MessageKind};

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
}

impl std::fmt::Display for WriteError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::NoSuchField(name, has) if has.is_empty() => {
                write!(f, "no field '{name}': this message has none")
            }
            Self::NoSuchField(name, has) => write!(f, "no field '{name}': the fields are {}", has.join(", ")),
            Self::Missing(name) => write!(f, "field '{name}' is missing"),
            Self::BadValue(name, value, takes) => {
                write!(f, "field '{name}' cannot be '{value}': it takes {takes}")
            }
        }
    }
}

impl std::error::Error for WriteError {}

impl MessageKind {
    /// The payload (message number first) made of named values such as `("rate", "1.25")`, in any order.
    ///
    /// # Errors
    /// [`WriteError`] where a field is missing, not known, or its value is out of range.
    pub fn write(&self, values: &[(&str, &str)]) -> Result<Vec<u8>, WriteError> {
        if let Some((name, _)) =
            values.iter().find(|(name, _)| !self.fields.iter().any(|field| field.name == *name))
        {
            let has = self.fields.iter().map(|field| field.name.clone()).collect();
            return Err(WriteError::NoSuchField((*name).to_owned(), has));
        }
        let mut out = Vec::new();
        put_unsigned(u64::from(self.number), &mut out);
        for field in &self.fields {
            let (_, value) = values
                .iter()
                .find(|(name, _)| field.name == *name)
                .ok_or_else(|| WriteError::Missing(field.name.clone()))?;
            field.write(value, &mut out).ok_or_else(|| {
                WriteError::BadValue(field.name.clone(), (*value).to_owned(), field.takes())
            })?;
        }
        Ok(out)
    }
}

impl Field {
    /// What values the field takes, in words.
    #[must_use]
    pub fn takes(&self) -> String {
        let (low, high) = match &self.form {
            Form::U8 => (0, i128::from(u8::MAX)),
            Form::I8 => (i128::from(i8::MIN), i128::from(i8::MAX)),
            Form::U16 => (0, i128::from(u16::MAX)),
            Form::I16 => (i128::from(i16::MIN), i128::from(i16::MAX)),
            Form::U32 => (0, i128::from(u32::MAX)),
            Form::I32 => (i128::from(i32::MIN), i128::from(i32::MAX)),
            Form::U64 => (0, i128::from(u64::MAX)),
            Form::I64 => (i128::from(i64::MIN), i128::from(i64::MAX)),
            Form::Bool => return "true or false".to_owned(),
            Form::F32 => return "a number".to_owned(),
            Form::Choice(words) => return words.join(", "),
            Form::Text => return "text".to_owned(),
        };
        let shown = |raw| {
            let mut out = Vec::new();
            super::Value::Number { raw, decimals: self.decimals }.write_plain(&mut out);
            String::from_utf8_lossy(&out).into_owned()
        };
        let unit = if self.unit.is_empty() { String::new() } else { format!(" {}", self.unit) };
        format!("{} to {}{unit}", shown(low), shown(high))
    }

    fn write(&self, value: &str, out: &mut Vec<u8>) -> Option<()> {
        let number = || scaled(value, self.decimals);
        match &self.form {
            Form::U8 => out.push(u8::try_from(number()?).ok()?),
            Form::I8 => out.push(i8::try_from(number()?).ok()?.cast_unsigned()),
            Form::U16 => put_unsigned(u16::try_from(number()?).ok()?.into(), out),
            Form::U32 => put_unsigned(u32::try_from(number()?).ok()?.into(), out),
            Form::U64 => put_unsigned(u64::try_from(number()?).ok()?, out),
            Form::I16 => put_signed(i16::try_from(number()?).ok()?.into(), out),
            Form::I32 => put_signed(i32::try_from(number()?).ok()?.into(), out),
            Form::I64 => put_signed(i64::try_from(number()?).ok()?, out),
            Form::Bool => out.push(u8::from(value.parse::<bool>().ok()?)),
            Form::F32 => out.extend_from_slice(&value.parse::<f32>().ok()?.to_le_bytes()),
            Form::Choice(words) => {
                put_unsigned(words.iter().position(|word| word == value)? as u64, out);
            }
            Form::Text => {
                put_unsigned(value.len() as u64, out);
                out.extend_from_slice(value.as_bytes());
            }
        }
        Some(())
    }
}

/// A decimal number as a whole number of its last place; `None` if it has more places than `decimals`.
fn scaled(value: &str, decimals: u8) -> Option<i128> {
    let (sign, digits) = value.strip_prefix('-').map_or((1, value), |rest| (-1, rest));
    let (whole, part) = digits.split_once('.').unwrap_or((digits, ""));
    let wanted = usize::from(decimals);
    let part = if part.len() > wanted { part.trim_end_matches('0') } else { part };
    if part.len() > wanted || (whole.is_empty() && part.is_empty()) {
        return None;
    }
    let digits = format!("{whole}{part:0<wanted$}");
    if digits.is_empty() || digits.len() > 30 || !digits.bytes().all(|digit| digit.is_ascii_digit()) {
        return None;
    }
    digits.parse::<i128>().ok().map(|number| number * sign)
}

fn put_unsigned(mut value: u64, out: &mut Vec<u8>) {
    while value >= 0x80 {
        out.push((value & 0x7F) as u8 | 0x80);
        value >>= 7;
    }
    out.push((value & 0x7F) as u8);
}

fn put_signed(value: i64, out: &mut Vec<u8>) {
    put_unsigned(((value << 1) ^ (value >> 63)).cast_unsigned(), out);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decimals_are_taken_exactly_or_refused() {
        assert_eq!(scaled("1.25", 2), Some(125));
        assert_eq!(scaled("-1.2", 2), Some(-120));
        assert_eq!(scaled("-0.05", 2), Some(-5));
        assert_eq!(scaled(".5", 2), Some(50));
        assert_eq!(scaled("3", 0), Some(3));
        assert_eq!(scaled("3.00", 0), Some(3));
        for bad in ["", "-", ".", "1.255", "1e3", "+1", "1.2.3", "--1", "x"] {
            assert_eq!(scaled(bad, 2), None, "{bad}");
        }
    }
}
