//! Which kinds of fields an agreement has, by the names of the fixed code that they need.

use crate::messages::{Form, Table};

/// The sections that its fields need.
#[must_use]
pub(super) fn of(table: &Table) -> Vec<&'static str> {
    let mut needs = Vec::new();
    for field in table.messages().iter().flat_map(|message| &message.fields) {
        needs.push(match field.form.inner() {
            Form::I16 | Form::I32 | Form::I64 => "signed",
            Form::Bool => "bool",
            Form::F32 => "f32",
            Form::F64 => "f64",
            Form::Choice(_) => "choice",
            Form::Text(_) => "text",
            Form::Octets(_) => "octets",
            _ => "always",
        });
        let inside = match &field.form {
            Form::Optional(inside) => {
                needs.extend(["bool", "octet", "optional"]);
                &**inside
            }
            form => form,
        };
        if matches!(inside, Form::List(..)) {
            needs.push("list");
        }
        if matches!(inside.inner(), Form::Bool | Form::U8 | Form::I8 | Form::Flags(8, _)) {
            needs.push("octet");
        }
        if matches!(field.form.inner(), Form::Text(_) | Form::Octets(_)) {
            needs.push("counted");
        }
        if matches!(field.form.inner(), Form::F32 | Form::F64) {
            needs.push("float");
        }
    }
    needs
}
