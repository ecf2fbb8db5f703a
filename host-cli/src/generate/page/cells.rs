//! What the tables of a page say of a message and of a field, cell by cell.

use crate::messages::{Field, Form, MessageKind, Range};

/// A count between two others, or one where they are the same: `2` or `1 to 3`.
fn between(least: usize, most: usize) -> String {
    if least == most { most.to_string() } else { format!("{least} to {most}") }
}

/// How many octets the payload has, message number included.
#[must_use]
pub(super) fn octets(message: &MessageKind) -> String {
    let most = message.most_octets();
    let varies: usize = message.fields.iter().map(|field| field.most_octets() - field.least_octets()).sum();
    between(most - varies, most)
}

/// How long it stays fresh and what comes then, or that it may move something; empty for all else.
#[must_use]
pub(super) fn acts(message: &MessageKind) -> String {
    match (message.fresh_ms, message.at_stop, &message.stop) {
        (Some(fresh), Some(stop), Some(value)) => {
            let value: Vec<_> = value.iter().map(|octet| format!("{octet:02x}")).collect();
            format!("fresh for {}, then {}; stop value {}", time(fresh), stop.name(), value.join(" "))
        }
        _ if message.moves => "may move something".to_owned(),
        _ => String::new(),
    }
}

/// Milliseconds as people read them.
fn time(ms: u32) -> String {
    if ms.is_multiple_of(1000) { format!("{} s", ms / 1000) } else { format!("{ms} ms") }
}

/// One field.
#[derive(Debug)]
pub(super) struct Cells {
    /// Its type.
    pub(super) form: String,
    /// What it takes, in its unit.
    pub(super) values: String,
    /// Its unit; empty without one.
    pub(super) unit: String,
    /// What one step of the number on the wire stands for; empty where numbers travel as they are.
    pub(super) step: String,
    /// Its first octet, counted from 0 at the message number.
    pub(super) from: String,
    /// How many octets it has.
    pub(super) octets: String,
}

impl Cells {
    /// The heads of the columns; the name goes first, what it means goes last.
    pub(super) const HEADS: [&str; 8] =
        ["field", "type", "values", "unit", "one step", "from octet", "octets", "meaning"];

    /// The cells of all fields of a message.
    #[must_use]
    pub(super) fn of(message: &MessageKind) -> Vec<Self> {
        let fields: usize = message.fields.iter().map(Field::most_octets).sum();
        let (mut least, mut most) = (message.most_octets() - fields, message.most_octets() - fields);
        let mut cells = Vec::new();
        for field in &message.fields {
            cells.push(Self {
                form: form(&field.form),
                values: values(field),
                unit: field.unit.clone(),
                step: step(field),
                from: between(least, most),
                octets: between(field.least_octets(), field.most_octets()),
            });
            least += field.least_octets();
            most += field.most_octets();
        }
        cells
    }
}

/// The type alone: how long a text may be stands under the values.
fn form(form: &Form) -> String {
    match form {
        Form::Flags(bits, _) => format!("flags, {bits} bits"),
        Form::Text(_) => "text".to_owned(),
        Form::Octets(_) => "octets".to_owned(),
        Form::List(inner, count) => format!("{count} × {}", self::form(inner)),
        Form::Optional(inner) => format!("optional {}", self::form(inner)),
        form => form.name(),
    }
}

/// What a field takes, without its unit; words and flags with their numbers.
#[must_use]
pub(super) fn values(field: &Field) -> String {
    let each = match (field.form.inner(), field.range) {
        (Form::Bool, _) => "0 false, 1 true".to_owned(),
        (Form::Choice(words), _) => numbered("", words),
        (Form::Flags(_, names), _) => numbered("bit ", names),
        (Form::Text(most), _) => format!("UTF-8, at most {most} octets"),
        (Form::Octets(most), _) => format!("at most {most} octets"),
        (Form::F32 | Form::F64, Some(Range::Float(low, high))) => format!("{low} to {high}"),
        (Form::F32 | Form::F64, _) => "any".to_owned(),
        (Form::U32 | Form::U64 | Form::I32 | Form::I64, None) if field.scale.is_plain() => "any".to_owned(),
        (whole, _) => {
            let (low, high) = field.whole_range(whole);
            format!("{} to {}", field.scale.value(low), field.scale.value(high))
        }
    };
    match &field.form {
        Form::Optional(inner) => format!("nothing, or {}", many(inner, &each)),
        form => many(form, &each),
    }
}

fn many(form: &Form, each: &str) -> String {
    match form {
        Form::List(_, count) => format!("{count} values, each {each}"),
        _ => each.to_owned(),
    }
}

fn numbered(lead: &str, words: &[String]) -> String {
    let words: Vec<_> =
        words.iter().enumerate().map(|(place, word)| format!("{lead}{place} {word}")).collect();
    words.join(", ")
}

fn step(field: &Field) -> String {
    if field.scale.is_plain() {
        return String::new();
    }
    let unit = if field.unit.is_empty() { String::new() } else { format!(" {}", field.unit) };
    let mut text = format!("{}{unit}", field.scale.step());
    if field.scale.offset != 0 {
        text.push_str(&format!(", 0 is {}{unit}", field.scale.value(0)));
    }
    text
}
