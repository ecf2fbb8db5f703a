//! Fields of messages: form, unit, scale and range.

use super::{Decimal, Scale, Value};

/// How a field lies in a payload (the postcard form).
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
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
    /// Eight octets, IEEE 754.
    F64,
    /// A unit variant, told by its place in this list of words.
    Choice(Vec<String>),
    /// An unsigned whole number of so many bits (8, 16, 32 or 64), each with a meaning; their names from bit 0 on.
    Flags(u8, Vec<String>),
    /// A length, then that many octets of UTF-8, at most so many.
    Text(u16),
    /// A length, then that many octets, at most so many.
    Octets(u16),
    /// So many of the same form, without a length.
    List(Box<Form>, u8),
    /// An octet 0 for nothing, or an octet 1 and the value.
    Optional(Box<Form>),
}

impl Form {
    /// Smallest and largest number that the form holds; `None` for forms that are no whole number.
    #[must_use]
    pub fn limits(&self) -> Option<(i128, i128)> {
        Some(match self {
            Form::U8 => (0, u8::MAX.into()),
            Form::I8 => (i8::MIN.into(), i8::MAX.into()),
            Form::U16 => (0, u16::MAX.into()),
            Form::I16 => (i16::MIN.into(), i16::MAX.into()),
            Form::U32 => (0, u32::MAX.into()),
            Form::I32 => (i32::MIN.into(), i32::MAX.into()),
            Form::U64 => (0, u64::MAX.into()),
            Form::I64 => (i64::MIN.into(), i64::MAX.into()),
            _ => return None,
        })
    }

    /// The form inside lists and optional values.
    #[must_use]
    pub fn inner(&self) -> &Form {
        match self {
            Form::List(inner, _) | Form::Optional(inner) => inner.inner(),
            form => form,
        }
    }

    /// What it is called in an agreement, for instance `i16` or `optional 4 × u8`.
    #[must_use]
    pub fn name(&self) -> String {
        match self {
            Form::U8 => "u8".into(),
            Form::I8 => "i8".into(),
            Form::U16 => "u16".into(),
            Form::I16 => "i16".into(),
            Form::U32 => "u32".into(),
            Form::I32 => "i32".into(),
            Form::U64 => "u64".into(),
            Form::I64 => "i64".into(),
            Form::Bool => "bool".into(),
            Form::F32 => "f32".into(),
            Form::F64 => "f64".into(),
            Form::Choice(_) => "choice".into(),
            Form::Flags(bits, _) => format!("flags of {bits} bits"),
            Form::Text(most) => format!("text up to {most}"),
            Form::Octets(most) => format!("octets up to {most}"),
            Form::List(inner, count) => format!("{count} × {}", inner.name()),
            Form::Optional(inner) => format!("optional {}", inner.name()),
        }
    }
}

/// Which values of a field's form are allowed, both ends included.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Range {
    /// Of a whole number, as it stands in the payload.
    Whole(i128, i128),
    /// Of a floating-point number. What is no number lies in no range.
    Float(f64, f64),
}

/// One field of a message.
#[derive(Debug, Clone, PartialEq)]
pub struct Field {
    /// Name, lower case with hyphens.
    pub name: String,
    /// How it lies in the payload.
    pub form: Form,
    /// Unit of the scaled value as it is shown, for instance `°/s`; empty if it has none.
    pub unit: String,
    /// The same unit in the spelling of UCUM, for instance `deg/s`.
    pub ucum: String,
    /// How a whole number becomes the value.
    pub scale: Scale,
    /// Which values are allowed; all that the form holds without it. Of a list or an optional value it is for each value inside.
    pub range: Option<Range>,
    /// What the field is, for people.
    pub text: String,
}

impl Field {
    /// A field without unit, scale or range.
    #[must_use]
    pub fn new(name: &str, form: Form) -> Self {
        Self {
            name: name.to_owned(),
            form,
            unit: String::new(),
            ucum: String::new(),
            scale: Scale::default(),
            range: None,
            text: String::new(),
        }
    }

    /// Whether a value that was read lies in the field's range; each of them where there are several.
    #[must_use]
    pub fn allows(&self, value: &Value<'_>) -> bool {
        match (self.range, value) {
            (None, _) | (_, Value::Nothing) => true,
            (Some(_), Value::List(values)) => values.iter().all(|value| self.allows(value)),
            (Some(Range::Whole(low, high)), Value::Number(value)) => {
                self.scale.raw(*value).is_some_and(|raw| (low..=high).contains(&raw))
            }
            (Some(Range::Float(low, high)), Value::Float(value)) => (low..=high).contains(&f64::from(*value)),
            (Some(Range::Float(low, high)), Value::Double(value)) => (low..=high).contains(value),
            _ => true,
        }
    }

    /// What values the field takes, in words.
    #[must_use]
    pub fn takes(&self) -> String {
        self.takes_form(&self.form)
    }

    fn takes_form(&self, form: &Form) -> String {
        let unit = if self.unit.is_empty() { String::new() } else { format!(" {}", self.unit) };
        match form {
            Form::Bool => "true or false".to_owned(),
            Form::F32 | Form::F64 => match self.range {
                Some(Range::Float(low, high)) => format!("{low} to {high}{unit}"),
                _ => format!("a number{unit}"),
            },
            Form::Choice(words) => words.join(", "),
            Form::Flags(_, names) => format!("none, or some of {} joined by +", names.join(", ")),
            Form::Text(most) => format!("text up to {most} octets"),
            Form::Octets(most) => format!("up to {most} octets in hex"),
            Form::List(inner, count) => {
                format!("{count} values joined by commas, each {}", self.takes_form(inner))
            }
            Form::Optional(inner) => format!("none, or {}", self.takes_form(inner)),
            whole => {
                let (low, high) = self.whole_range(whole);
                let shown = |raw| self.scale.value(raw);
                let step: Decimal = self.scale.step();
                let steps =
                    if self.scale.factor > 1 { format!(" in steps of {step}") } else { String::new() };
                format!("{} to {}{unit}{steps}", shown(low), shown(high))
            }
        }
    }

    /// The numbers of the payload that are allowed for a form that is a whole number.
    #[must_use]
    pub fn whole_range(&self, form: &Form) -> (i128, i128) {
        match (self.range, form.limits()) {
            (Some(Range::Whole(low, high)), _) => (low, high),
            (_, limits) => limits.unwrap_or_default(),
        }
    }
}
