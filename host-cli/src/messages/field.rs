//! Fields of messages: form, unit and scale, and their values.

use std::borrow::Cow;

/// How a field lies in a payload (the postcard form).
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Form {
    /// One octet.
    U8,
    /// One octet, two's complement.
    I8,
    /// A variable-length whole number of at most 16 bits.
    U16,
    /// The same with a sign (zigzag).
    I16,
    /// At most 32 bits.
    U32,
    /// The same with a sign.
    I32,
    /// At most 64 bits.
    U64,
    /// The same with a sign.
    I64,
    /// One octet, 0 or 1.
    Bool,
    /// Four octets, IEEE 754.
    F32,
    /// A unit variant, told by its place in this list of words.
    Choice(Vec<String>),
    /// A length, then that many octets of UTF-8.
    Text,
}

/// One field of a message.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Field {
    /// Name, lower case with hyphens.
    pub name: String,
    /// How it lies in the payload.
    pub form: Form,
    /// Unit of the scaled value, for instance `°/s`; empty if it has none.
    pub unit: String,
    /// Decimal places of a whole number: the value is the number in the payload divided by ten to this power.
    pub decimals: u8,
}

/// The value of a field.
#[derive(Debug, Clone, PartialEq)]
pub enum Value<'a> {
    /// A whole number divided by ten to the power `decimals`.
    Number {
        /// The number in the payload. Wide enough for all 64-bit forms.
        raw: i128,
        /// Decimal places.
        decimals: u8,
    },
    /// A floating-point number.
    Float(f32),
    /// Yes or no.
    Bool(bool),
    /// A word of a choice.
    Word(Cow<'a, str>),
    /// Text, which may hold anything: escape it before it is shown.
    Text(Cow<'a, str>),
}

impl Value<'_> {
    /// Writes a number, `yes`/`no`-free booleans (`true`, `false`) or a word as plain ASCII; texts as they are.
    pub fn write_plain(&self, out: &mut Vec<u8>) {
        match self {
            Value::Number { raw, decimals } => write_number(*raw, *decimals, out),
            Value::Float(value) => out.extend_from_slice(value.to_string().as_bytes()),
            Value::Bool(value) => out.extend_from_slice(if *value { b"true" } else { b"false" }),
            Value::Word(word) | Value::Text(word) => out.extend_from_slice(word.as_bytes()),
        }
    }
}

fn write_number(raw: i128, decimals: u8, out: &mut Vec<u8>) {
    let mut digits = itoa::Buffer::new();
    let decimals = usize::from(decimals);
    // Nearly all values fit 64 bits, and these divide much faster.
    let text = match i64::try_from(raw) {
        Ok(small) => digits.format(small),
        Err(_) => digits.format(raw),
    };
    let (sign, text) = text.strip_prefix('-').map_or(("", text), |rest| ("-", rest));
    out.extend_from_slice(sign.as_bytes());
    if decimals == 0 {
        out.extend_from_slice(text.as_bytes());
        return;
    }
    let whole = text.len().saturating_sub(decimals);
    if whole == 0 {
        out.extend_from_slice(b"0.");
        out.resize(out.len() + decimals - text.len(), b'0');
    } else {
        out.extend_from_slice(&text.as_bytes()[..whole]);
        out.push(b'.');
    }
    out.extend_from_slice(&text.as_bytes()[whole..]);
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plain(raw: i128, decimals: u8) -> String {
        let mut out = Vec::new();
        Value::Number { raw, decimals }.write_plain(&mut out);
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn numbers_are_scaled_exactly() {
        assert_eq!(plain(125, 2), "1.25");
        assert_eq!(plain(-125, 2), "-1.25");
        assert_eq!(plain(5, 2), "0.05");
        assert_eq!(plain(-5, 2), "-0.05");
        assert_eq!(plain(0, 2), "0.00");
        assert_eq!(plain(0, 0), "0");
        assert_eq!(plain(i128::from(u64::MAX), 1), "1844674407370955161.5");
        assert_eq!(plain(i128::from(i64::MIN), 0), "-9223372036854775808");
    }
}
