//! Frames of the extensions beyond two boards.

use super::field::{list, string};
use crate::{
    beyond::{Beyond, Value},
    report::put::{decimal, hex},
};

pub(super) fn write_beyond(beyond: &Beyond<'_>, out: &mut Vec<u8>) {
    word!(out, "kind", "extended");
    if let Some(addresses) = beyond.addresses {
        number!(out, "to", addresses.to);
        number!(out, "from", addresses.from);
    }
    word!(out, "extension", beyond.name);
    number!(out, "code", beyond.code);
    key!(out, "fields");
    list(out, beyond.fields.iter(), |out, field| {
        string(out, field.name.as_bytes());
        out.push(b':');
        match &field.value {
            Value::Number(number) => decimal(out, *number),
            Value::Words(words) => string(out, words.as_bytes()),
        }
    });
    key!(out, "payload");
    out.push(b'"');
    hex(out, beyond.body);
    out.push(b'"');
}
