//! What the words of an agreement mean, as far as the agreement uses them.

use crate::{agreement::Agreement, messages::Form};
use bellwire::{frame::Class, setpoint::Stop};

/// Words and their meanings, one line each.
#[must_use]
pub(super) fn of(agreement: &Agreement) -> Vec<(String, String)> {
    let messages = agreement.table.messages();
    let mut lines = Vec::new();
    for class in Class::ALL {
        if messages.iter().any(|message| message.class == class) {
            lines.push((class.name().to_owned(), of_class(class).to_owned()));
        }
    }
    if messages.iter().any(|message| message.fresh_ms.is_some()) {
        let fresh = "how long a set-point holds without a newer one, counted from the arrival of its octets. After that the value is stale, the \
            actuator stops, and moves again only after the stop value and an operator's act (re-arm).";
        lines.push(("fresh for".to_owned(), fresh.to_owned()));
    }
    for stop in Stop::ALL {
        if messages.iter().any(|message| message.at_stop == Some(stop)) {
            lines.push((format!("then {}", stop.name()), of_stop(stop).to_owned()));
        }
    }
    lines.push(("octets".to_owned(), octets(agreement)));
    lines
}

const fn of_class(class: Class) -> &'static str {
    match class {
        Class::SetPoint => "the newest value wins; sent once, never repeated by the library, not confirmed.",
        Class::Errand => {
            "confirmed, in order, exactly once within a session; where no confirmation comes the outcome is unknown."
        }
        Class::Report => "confirmed, order not kept; where no confirmation comes the outcome is unknown.",
        Class::Notice => "sent once, not confirmed.",
    }
}

const fn of_stop(stop: Stop) -> &'static str {
    match stop {
        Stop::Hold => "stay where it is, under power.",
        Stop::Brake => "come to rest quickly and resist.",
        Stop::Coast => "no drive, no braking.",
        Stop::Off => "cut the supply.",
    }
}

/// How the types travel.
fn octets(agreement: &Agreement) -> String {
    let forms: Vec<_> = agreement
        .table
        .messages()
        .iter()
        .flat_map(|message| &message.fields)
        .map(|field| &field.form)
        .collect();
    let has = |wanted: fn(&Form) -> bool| forms.iter().any(|form| wanted(form.inner()));
    let mut text = "the message number first, then the fields in their order, nothing between them; counted from 0. Message numbers, u16 to u64, \
        choices and flags of more than 8 bits: seven bits an octet, least significant first, top bit set on all but the last."
        .to_owned();
    if has(|form| matches!(form, Form::I16 | Form::I32 | Form::I64)) {
        text.push_str(" i16 to i64: the same, of 0, -1, 1, -2 … as 0, 1, 2, 3 …");
    }
    if has(|form| matches!(form, Form::F32 | Form::F64)) {
        text.push_str(" f32, f64: IEEE 754, least significant octet first.");
    }
    if has(|form| matches!(form, Form::Text(_) | Form::Octets(_))) {
        text.push_str(" Text and octets: their count first.");
    }
    if forms.iter().any(|form| matches!(form, Form::Optional(_))) {
        text.push_str(" Optional: 0 for nothing, or 1 and the value.");
    }
    text
}
