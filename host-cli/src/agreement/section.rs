//! One table of the file: its keys, read by name, with a fault for each that is missing, misspelt or of the wrong kind.

use super::fault::{Faults, Span};
use crate::messages::{Decimal, nearest};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A table of the file.
pub(super) struct Section<'d> {
    /// What it is, for sentences: `message 'dome-rate'`.
    pub(super) what: String,
    /// Where it begins.
    pub(super) at: Span,
    table: &'d DeTable<'d>,
}

/// A value and where it stands.
pub(super) type Placed<T> = (T, Span);

impl<'d> Section<'d> {
    /// A table; every key that is not among `known` is a fault.
    pub(super) fn new(
        what: String,
        at: Span,
        table: &'d DeTable<'d>,
        known: &[&str],
        faults: &mut Faults,
    ) -> Self {
        for (key, _) in table {
            let name: &str = key.get_ref();
            if known.contains(&name) {
                continue;
            }
            let instead = match nearest(name, known.iter().copied()) {
                Some(near) => format!("write {near}"),
                None => format!("the keys are {}", known.join(", ")),
            };
            faults.add(&key.span(), format!("{what} has no key '{}'", shown(name)), instead);
        }
        Self { what, at, table }
    }

    /// The value of a key, if it is there.
    pub(super) fn get(&self, key: &str) -> Option<&'d Spanned<DeValue<'d>>> {
        self.table.iter().find(|(known, _)| known.get_ref() == key).map(|(_, value)| value)
    }

    /// Whether the key is there.
    pub(super) fn has(&self, key: &str) -> bool {
        self.get(key).is_some()
    }

    /// Where the key's value stands, or the section.
    pub(super) fn place(&self, key: &str) -> Span {
        self.get(key).map_or_else(|| self.at.clone(), Spanned::span)
    }

    fn read<T>(
        &self,
        key: &str,
        wanted: &str,
        faults: &mut Faults,
        take: impl FnOnce(&'d DeValue<'d>) -> Option<T>,
    ) -> Option<Placed<T>> {
        let value = self.get(key)?;
        let taken = take(value.get_ref());
        if taken.is_none() {
            let found = found(value.get_ref());
            faults.add(&value.span(), format!("{key} cannot be {found}"), format!("write {wanted}"));
        }
        taken.map(|taken| (taken, value.span()))
    }

    /// Text. `example` is what to write, for instance `name = "dome"`.
    pub(super) fn string(&self, key: &str, example: &str, faults: &mut Faults) -> Option<Placed<&'d str>> {
        self.read(key, example, faults, DeValue::as_str)
    }

    /// Text that must be there.
    pub(super) fn need(&self, key: &str, example: &str, faults: &mut Faults) -> Option<Placed<&'d str>> {
        self.missing(key, example, faults);
        self.string(key, example, faults)
    }

    /// A fault if the key is not there.
    pub(super) fn missing(&self, key: &str, example: &str, faults: &mut Faults) {
        if !self.has(key) {
            faults.add(&self.at, format!("{} has no {key}", self.what), format!("write {example}"));
        }
    }

    /// Prose for people: no control characters but line ends.
    pub(super) fn prose(&self, key: &str, faults: &mut Faults) -> String {
        let Some((text, at)) = self.string(key, &format!("{key} = \"what it is\""), faults) else {
            return String::new();
        };
        if text.chars().any(|c| c.is_control() && c != '\n') {
            faults.add(&at, format!("{key} holds a control character"), "write plain text");
        }
        text.trim().to_owned()
    }

    /// A whole number from `low` to `high`.
    pub(super) fn whole(
        &self,
        key: &str,
        (low, high): (u32, u32),
        faults: &mut Faults,
    ) -> Option<Placed<u32>> {
        self.read(key, &format!("a whole number from {low} to {high}"), faults, |value| {
            let number = value.as_integer()?;
            let number = u32::from_str_radix(number.as_str(), number.radix()).ok()?;
            (low..=high).contains(&number).then_some(number)
        })
    }

    /// `true` or `false`.
    pub(super) fn boolean(&self, key: &str, faults: &mut Faults) -> Option<Placed<bool>> {
        self.read(key, &format!("{key} = true or {key} = false"), faults, DeValue::as_bool)
    }

    /// A decimal number, exact.
    pub(super) fn decimal(&self, key: &str, example: &str, faults: &mut Faults) -> Option<Placed<Decimal>> {
        self.read(key, example, faults, decimal)
    }

    /// A list of texts, or one text alone.
    pub(super) fn strings(
        &self,
        key: &str,
        example: &str,
        faults: &mut Faults,
    ) -> Option<Placed<Vec<Placed<&'d str>>>> {
        let value = self.get(key)?;
        if let Some(text) = value.get_ref().as_str() {
            return Some((vec![(text, value.span())], value.span()));
        }
        self.read(key, example, faults, |value| {
            value.as_array()?.iter().map(|item| Some((item.get_ref().as_str()?, item.span()))).collect()
        })
    }

    /// The sections of an array of tables (`[[message]]`), or of a list of inline tables.
    pub(super) fn sections(&self, key: &str, faults: &mut Faults) -> Vec<(&'d DeTable<'d>, Span)> {
        let header = if key == "field" { "message.field" } else { key };
        let tables = self.read(key, &format!("[[{header}]], with its keys below it"), faults, |value| {
            value.as_array()?.iter().map(|item| Some((item.get_ref().as_table()?, item.span()))).collect()
        });
        tables.map(|(tables, _)| tables).unwrap_or_default()
    }
}

/// A number of the file as it is written there, without loss.
pub(super) fn decimal(value: &DeValue<'_>) -> Option<Decimal> {
    let text = match value {
        DeValue::Integer(number) if number.radix() == 10 => number.as_str(),
        DeValue::Float(number) => number.as_str(),
        _ => return None,
    };
    let text = text.replace('_', "");
    Decimal::read(text.strip_prefix('+').unwrap_or(&text))
}

/// What stands there, for a sentence; never more than a few words of it.
pub(super) fn found(value: &DeValue<'_>) -> String {
    match value {
        DeValue::String(text) => format!("'{}'", shown(text)),
        DeValue::Integer(number) => shown(number.as_str()),
        DeValue::Float(number) => shown(number.as_str()),
        DeValue::Boolean(value) => value.to_string(),
        DeValue::Datetime(_) => "a date".to_owned(),
        DeValue::Array(_) => "this list".to_owned(),
        DeValue::Table(_) => "this table".to_owned(),
    }
}

/// Somebody's text in a sentence of ours: short, and without control characters.
pub(super) fn shown(text: &str) -> String {
    crate::lines::fit(&crate::report::harmless(text), 40)
}
