//! What is steered: a set-point of the agreement, and the errand that re-arms.

use bellwire::frame::Class;

use crate::{
    args::steer::SteerArgs,
    cmd::named::{for_leaf, named, wrong},
    fail::Fail,
    messages::{Decimal, Field, MessageKind, Table, Value},
    report::harmless,
};

/// Decimal places of a rate in the helm.
const PLACES: u8 = 2;

/// A set-point with one number, and the errand that re-arms.
#[derive(Debug, Clone)]
pub(super) struct Course {
    kind: MessageKind,
    rearm: Vec<u8>,
}

impl Course {
    /// Finds both messages and checks that the largest rate fits the field.
    ///
    /// # Errors
    /// What the agreement lacks, or which limit does not suit it.
    pub(super) fn new(args: &SteerArgs, limit: i16, table: &Table) -> Result<Self, Fail> {
        let kind = named(table, &args.message, Class::SetPoint)?;
        for_leaf(Some(kind), args.to.as_deref(), table)?;
        let rearm = named(table, &args.rearm, Class::Errand)?
            .write(&[])
            .map_err(|error| wrong(format!("{} cannot be sent by a key: {error}", args.rearm)))?;
        let course = Self { kind: kind.clone(), rearm };
        for rate in [limit, -limit, 1] {
            if course.payload(rate).is_none() {
                let takes = kind.fields.first().map_or_else(|| "no field".to_owned(), |field| field.takes());
                let rate = Decimal { number: rate.into(), places: PLACES };
                return Err(wrong(format!("{} cannot be steered: it has no value {rate}", kind.name))
                    .at(format!("{} takes {takes}", kind.name))
                    .next(
                        "choose another --limit, or a set-point with one number in steps of 0.01 or less",
                    ));
            }
        }
        Ok(course)
    }

    /// The set-point for this rate, 0.01 of the field's unit; `None` if the field does not take it.
    pub(super) fn payload(&self, rate: i16) -> Option<Vec<u8>> {
        let [field] = self.kind.fields.as_slice() else { return None };
        let value = Decimal { number: rate.into(), places: PLACES }.to_string();
        self.kind.write(&[(field.name.as_str(), value.as_str())]).ok()
    }

    /// The set-point that stops.
    pub(super) fn stop(&self) -> Option<Vec<u8>> {
        self.kind.stop.clone()
    }

    /// The errand that re-arms.
    pub(super) fn rearm(&self) -> &[u8] {
        &self.rearm
    }

    /// How long a value holds without a newer one, ms.
    pub(super) fn fresh_ms(&self) -> u32 {
        self.kind.fresh_ms.unwrap_or(500)
    }

    /// What a report that has the steered field says: the state of what is steered, with the names of its fields and without.
    pub(super) fn state(&self, table: &Table, class: Class, payload: &[u8]) -> Option<[String; 2]> {
        let steered = &self.kind.fields.first()?.name;
        let (_, values) = table.read(class, payload).filter(|_| class == Class::Report)?;
        if !values.clone().any(|(field, _)| field.name == *steered) {
            return None;
        }
        let part = |(field, value): (&Field, Value<'_>)| {
            let text = harmless(&value.plain());
            format!("{text} {}", field.unit).trim_end().to_owned()
        };
        let short: Vec<_> = values.clone().map(part).collect();
        let named: Vec<_> =
            values.zip(&short).map(|((field, _), part)| format!("{} {part}", field.name)).collect();
        Some([named.join(", "), short.join(", ")])
    }

    /// The unit of a rate.
    pub(super) fn unit(&self) -> &str {
        self.kind.fields.first().map_or("", |field| field.unit.as_str())
    }
}
