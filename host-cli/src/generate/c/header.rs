//! The header: constants, structs, and two functions.

use super::{Named, comment, named, prefix};
use crate::{
    agreement::Agreement,
    generate::{names::capitals, needs, prose, sections},
    messages::{Form, MessageKind},
};

const OPEN: &str = include_str!("fixed.h.txt");

/// The header.
#[must_use]
pub fn header(agreement: &Agreement) -> String {
    let (prefix, big, table) = (prefix(agreement), capitals(agreement.table.name()), &agreement.table);
    let names = named(agreement);
    let mut out = String::new();
    comment("", &prose::of_file(agreement).join("\n"), &mut out);
    let most = table.messages().iter().map(MessageKind::most_octets).max().unwrap_or_default();
    let fixed = sections::taken(OPEN, &needs::of(table))
        .replace("PREFIX", &prefix)
        .replace("CAPITALS", &big)
        .replace("FINGERPRINT_HERE", &format!("UINT32_C(0x{:08x})", table.fingerprint()))
        .replace("MOST_HERE", &most.to_string());
    let (open, close) = fixed.split_once("MESSAGES_HERE\n").unwrap_or((&fixed, ""));
    out.push_str(open);
    out.push_str("/* Numbers of the messages. */\nenum {\n");
    let numbers: Vec<_> = table
        .messages()
        .iter()
        .zip(&names)
        .map(|(message, named)| format!("    {} = {}", named.number, message.number))
        .collect();
    out.push_str(&format!("{}\n}};\n", numbers.join(",\n")));
    for (message, named) in table.messages().iter().zip(&names) {
        body(message, named, &prefix, &agreement.hub, &mut out);
    }
    out.push_str(&format!("\n/* A message: its number, and the member of its name. */\nstruct {prefix}_message {{\n    uint16_t number;\n"));
    if names.iter().any(|named| !named.fields.is_empty()) {
        out.push_str("    union {\n");
        for named in names.iter().filter(|named| !named.fields.is_empty()) {
            out.push_str(&format!("        struct {prefix}_{} {};\n", named.short, named.short));
        }
        out.push_str("    } as;\n");
    }
    out.push_str("};\n");
    out.push_str(close);
    out
}

fn body(message: &MessageKind, named: &Named, prefix: &str, hub: &str, out: &mut String) {
    for (field, words) in message.fields.iter().zip(&named.words) {
        match field.form.inner() {
            Form::Choice(_) => {
                out.push('\n');
                comment("", &format!("The words of {} in {}.", field.name, message.name), out);
                let lines: Vec<_> =
                    words.iter().enumerate().map(|(place, word)| format!("    {word} = {place}")).collect();
                out.push_str(&format!("enum {{\n{}\n}};\n", lines.join(",\n")));
            }
            Form::Flags(bits, _) => {
                out.push('\n');
                comment("", &format!("The flags of {} in {}.", field.name, message.name), out);
                for (bit, word) in words.iter().enumerate() {
                    out.push_str(&format!("#define {word} (UINT{bits}_C(1) << {bit})\n"));
                }
            }
            _ => {}
        }
    }
    out.push('\n');
    comment("", &prose::of_message(message, hub), out);
    if message.fields.is_empty() {
        return;
    }
    out.push_str(&format!("struct {prefix}_{} {{\n", named.short));
    for ((field, name), has) in message.fields.iter().zip(&named.fields).zip(&named.has) {
        comment("    ", &prose::of_field(field), out);
        if !has.is_empty() {
            out.push_str(&format!("    bool {has};\n"));
        }
        let (kind, count) = kind(&field.form, prefix);
        out.push_str(&format!("    {kind} {name}{count};\n"));
    }
    out.push_str("};\n");
}

/// The type, and what stands behind the name.
fn kind(form: &Form, prefix: &str) -> (String, String) {
    let plain = |kind: &str| (kind.to_owned(), String::new());
    match form {
        Form::Bool => plain("bool"),
        Form::F32 => plain("float"),
        Form::F64 => plain("double"),
        Form::Choice(_) => plain("uint8_t"),
        Form::Flags(bits, _) => (format!("uint{bits}_t"), String::new()),
        Form::Text(_) => (format!("struct {prefix}_text"), String::new()),
        Form::Octets(_) => (format!("struct {prefix}_octets"), String::new()),
        Form::List(inner, count) => (kind(inner, prefix).0, format!("[{count}]")),
        Form::Optional(inner) => kind(inner, prefix),
        number => {
            let name = number.name();
            let (sign, bits) = name.split_at(1);
            (format!("{}int{bits}_t", if sign == "u" { "u" } else { "" }), String::new())
        }
    }
}
