//! Values of fields, and how they are written as plain text.

use super::Decimal;
use std::borrow::Cow;

/// The value of a field.
#[derive(Debug, Clone, PartialEq)]
pub enum Value<'a> {
    /// A whole number of the payload, scaled.
    Number(Decimal),
    /// A floating-point number of four octets.
    Float(f32),
    /// A floating-point number of eight octets.
    Double(f64),
    /// Yes or no.
    Bool(bool),
    /// A word of a choice.
    Word(Cow<'a, str>),
    /// Flags: the bits, and their names from bit 0 on.
    Flags(u64, &'a [String]),
    /// Text, which may hold anything: escape it before it is shown.
    Text(Cow<'a, str>),
    /// Octets.
    Octets(Cow<'a, [u8]>),
    /// As many values of one form as the field has.
    List(Vec<Value<'a>>),
    /// An optional value that is not there.
    Nothing,
}

/// The names of the bits that are set; `bit6` for one that has no name.
pub fn flag_names(bits: u64, names: &[String]) -> impl Iterator<Item = Cow<'_, str>> {
    (0..64_usize).filter(move |bit| bits >> bit & 1 == 1).map(move |bit| match names.get(bit) {
        Some(name) => Cow::Borrowed(name.as_str()),
        None => Cow::Owned(format!("bit{bit}")),
    })
}

impl Value<'_> {
    /// Writes a number with a dot, `true` or `false`, a word, flags joined by `+`, octets as hex, a list in brackets, or `none`, all as
    /// plain ASCII; texts as they are.
    pub fn write_plain(&self, out: &mut Vec<u8>) {
        match self {
            Value::Number(value) => value.write(out),
            Value::Float(value) => out.extend_from_slice(value.to_string().as_bytes()),
            Value::Double(value) => out.extend_from_slice(value.to_string().as_bytes()),
            Value::Bool(value) => out.extend_from_slice(if *value { b"true" } else { b"false" }),
            Value::Word(word) | Value::Text(word) => out.extend_from_slice(word.as_bytes()),
            Value::Flags(0, _) | Value::Nothing => out.extend_from_slice(b"none"),
            Value::Flags(bits, names) => {
                for (index, name) in flag_names(*bits, names).enumerate() {
                    if index > 0 {
                        out.push(b'+');
                    }
                    out.extend_from_slice(name.as_bytes());
                }
            }
            Value::Octets(octets) => {
                for octet in octets.iter() {
                    out.extend_from_slice(format!("{octet:02x}").as_bytes());
                }
            }
            Value::List(values) => {
                out.push(b'[');
                for (index, value) in values.iter().enumerate() {
                    if index > 0 {
                        out.push(b',');
                    }
                    value.write_plain(out);
                }
                out.push(b']');
            }
        }
    }

    /// The same as text.
    #[must_use]
    pub fn plain(&self) -> String {
        let mut out = Vec::new();
        self.write_plain(&mut out);
        String::from_utf8_lossy(&out).into_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_value_has_a_plain_form() {
        let names = ["rain".to_owned(), "mains".to_owned()];
        assert_eq!(Value::Flags(0b11, &names).plain(), "rain+mains");
        assert_eq!(Value::Flags(0b101, &names).plain(), "rain+bit2");
        assert_eq!(Value::Flags(0, &names).plain(), "none");
        assert_eq!(Value::Octets(Cow::Borrowed(&[0, 0xAB])).plain(), "00ab");
        let list = vec![Value::Bool(true), Value::Nothing, Value::Float(1.5)];
        assert_eq!(Value::List(list).plain(), "[true,none,1.5]");
        assert_eq!(Value::Double(f64::NAN).plain(), "NaN");
    }
}
