//! Sentences about messages and fields, the same in every output.

use crate::{
    agreement::Agreement,
    messages::{Field, Form, MessageKind},
};

/// Text of the file without what could hide or turn around code beside it: Unicode's controls of the writing direction.
#[must_use]
pub(super) fn plain(text: &str) -> String {
    let turns = |c: char| matches!(c, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    text.chars().filter(|&c| !turns(c) && (c == '\n' || !c.is_control())).collect()
}

/// `text` in lines of at most `width` characters, where words allow it; an empty line stays one.
#[must_use]
pub(super) fn folded(text: &str, width: usize) -> Vec<String> {
    let mut lines = Vec::new();
    for paragraph in plain(text).lines() {
        let mut line = String::new();
        for word in paragraph.split_whitespace() {
            if !line.is_empty() && line.chars().count() + 1 + word.chars().count() > width {
                lines.push(std::mem::take(&mut line));
            }
            if !line.is_empty() {
                line.push(' ');
            }
            line.push_str(word);
        }
        lines.push(line);
    }
    lines
}

/// What the message is, then number, class and way, then what it moves or how long it holds.
#[must_use]
pub(super) fn of_message(message: &MessageKind, hub: &str) -> String {
    let mut text = ended(&message.text);
    text.push_str(&format!(
        "Message {}, {}, {}, {}.",
        message.number,
        message.class.name(),
        message.between(hub),
        octets(message.most_octets())
    ));
    if let (Some(fresh), Some(stop)) = (message.fresh_ms, message.at_stop) {
        text.push_str(&format!(" Fresh for {fresh} ms, then {}.", stop.name()));
    } else if message.moves {
        text.push_str(" It may move something.");
    }
    text
}

/// `at most 3 octets`.
#[must_use]
pub(super) fn octets(most: usize) -> String {
    format!("at most {most} octet{}", if most == 1 { "" } else { "s" })
}

/// What the field is, then what it takes, in which unit.
#[must_use]
pub(super) fn of_field(field: &Field) -> String {
    let mut text = ended(&field.text);
    text.push_str(&takes(field));
    text.push('.');
    text
}

/// What a field takes, and what one step of its number stands for.
#[must_use]
pub(super) fn takes(field: &Field) -> String {
    let mut text = match field.form.inner() {
        Form::Flags(_, names) => format!("flags: {}", names.join(", ")),
        _ => field.takes().trim_start_matches("none, or ").to_owned(),
    };
    if matches!(field.form, Form::Optional(_)) {
        text.push_str("; may be missing");
    }
    if !field.scale.is_plain() {
        let unit = if field.unit.is_empty() { String::new() } else { format!(" {}", field.unit) };
        text.push_str(&format!("; 1 is {}{unit}", field.scale.step()));
        if field.scale.offset != 0 {
            text.push_str(&format!(", 0 stands for {}{unit}", field.scale.value(0)));
        }
    }
    text
}

/// A text as the beginning of a paragraph.
fn ended(text: &str) -> String {
    match text.trim() {
        "" => String::new(),
        text if text.ends_with(['.', '!', '?']) => format!("{text} "),
        text => format!("{text}. "),
    }
}

/// What the whole is and where it comes from: lines for the head of a file.
#[must_use]
pub(super) fn of_file(agreement: &Agreement) -> Vec<String> {
    let table = &agreement.table;
    let mut lines =
        vec![format!("The messages of {}, fingerprint {:08x}.", table.title(), table.fingerprint())];
    if !agreement.text.is_empty() {
        lines.push(String::new());
        lines.extend(folded(&agreement.text, 90));
    }
    lines.push(String::new());
    lines.push("Written by `bellwire generate` from the agreement: change that, not this file.".to_owned());
    lines
}

/// Whether a form holds what is lent from the payload: text or octets.
#[must_use]
pub(super) fn lends(form: &Form) -> bool {
    matches!(form.inner(), Form::Text(_) | Form::Octets(_))
}
