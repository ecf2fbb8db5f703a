//! One message as a sheet of comma-separated values (RFC 4180): a row each time it was sent, a column for each field.
//!
//! Times are ISO 8601 in UTC and numbers have a dot, whatever the computer's language, so that a spreadsheet makes no dates of them.

use super::{
    Record, Render, Start,
    csv::{cell, foreign},
    put::{decimal, moment, put, seconds},
};
use crate::{
    endpoint::Direction,
    messages::{Field, Form, MessageKind, Table, Value},
};
use std::sync::Arc;

/// One message as a sheet.
#[derive(Debug)]
pub(super) struct Sheet {
    table: Arc<Table>,
    start: Arc<Start>,
    number: u16,
}

impl Sheet {
    pub(super) const fn new(table: Arc<Table>, start: Arc<Start>, number: u16) -> Self {
        Self { table, start, number }
    }

    fn kind(&self) -> Option<&MessageKind> {
        self.table.get(self.number)
    }
}

/// How many values of a list a field has; `None` for one alone.
fn count(field: &Field) -> Option<u8> {
    match &field.form {
        Form::List(_, count) => Some(*count),
        Form::Optional(inner) => match &**inner {
            Form::List(_, count) => Some(*count),
            _ => None,
        },
        _ => None,
    }
}

fn heading(field: &Field, index: Option<u8>, out: &mut Vec<u8>) {
    let mut text = field.name.clone();
    if let Some(index) = index {
        text.push_str(&format!("-{index}"));
    }
    if !field.unit.is_empty() {
        text.push_str(&format!(" [{}]", field.unit));
    }
    out.push(b',');
    cell(out, text.as_bytes());
}

/// A value as a cell; one that is not there leaves it empty.
fn value_cell(value: &Value<'_>, out: &mut Vec<u8>) {
    if *value != Value::Nothing {
        let plain = value.plain();
        if let Value::Text(_) = value { foreign(out, plain.as_bytes()) } else { cell(out, plain.as_bytes()) }
    }
}

impl Render for Sheet {
    fn head(&self, out: &mut Vec<u8>) {
        put(out, "time,seconds [s],port,direction,number");
        for field in self.kind().map_or(&[][..], |kind| &kind.fields) {
            match count(field) {
                None => heading(field, None, out),
                Some(count) => (1..=count).for_each(|index| heading(field, Some(index), out)),
            }
        }
        out.push(b'\n');
    }

    /// A row for each first sending whose octets fit the message; all else is none of this sheet's business.
    fn record(&self, record: &Record<'_>, out: &mut Vec<u8>) {
        let Record::Frame(frame) = record else { return };
        let (Some(class), 1) = (frame.header.kind.class(), frame.sending) else { return };
        // Another version of the agreement may have other fields.
        let table =
            self.table.of(frame.agreement).filter(|table| table.fingerprint() == self.table.fingerprint());
        let read = table.and_then(|table| table.read(class, &frame.payload));
        let Some((_, values)) = read.filter(|(kind, _)| kind.number == self.number) else { return };
        if let Some(at) = frame.stamp.at {
            moment(out, at);
            out.push(b',');
            seconds(out, at.saturating_sub(self.start.get(at)), 9);
        } else {
            out.push(b',');
        }
        out.push(b',');
        decimal(out, frame.stamp.port);
        put(out, if frame.stamp.direction == Direction::In { ",in," } else { ",out," });
        decimal(out, frame.header.number);
        for (field, value) in values {
            match (count(field), &value) {
                (Some(_), Value::List(values)) => {
                    for value in values {
                        out.push(b',');
                        value_cell(value, out);
                    }
                }
                (Some(count), _) => (0..count).for_each(|_| out.push(b',')),
                (None, value) => {
                    out.push(b',');
                    value_cell(value, out);
                }
            }
        }
        out.push(b'\n');
    }
}
