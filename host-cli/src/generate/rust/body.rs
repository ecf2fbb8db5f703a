//! One message: its struct, its choices and flags, how it is checked and read.

use super::{Named, doc, lifetime};
use crate::{
    generate::{
        check::Check,
        names::{Names, camel},
        prose,
    },
    messages::{Field, Form, MessageKind},
};

/// Everything of one message, `defmt` behind each `derive`; nothing for a message without fields, which is a variant and no more.
pub(super) fn write(message: &MessageKind, named: &Named, hub: &str, defmt: &str, out: &mut String) {
    if message.fields.is_empty() {
        return;
    }
    for (field, choice) in message.fields.iter().zip(&named.choices) {
        if let Form::Choice(words) = field.form.inner() {
            choose(&format!("The words of {} in {}.", field.name, message.name), choice, words, defmt, out);
        }
    }
    out.push('\n');
    doc("", &prose::of_message(message, hub), out);
    let life = lifetime(message);
    out.push_str("#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]\n");
    out.push_str(defmt);
    out.push_str(&format!("pub struct {}{life} {{\n", named.kind));
    for ((field, name), choice) in message.fields.iter().zip(&named.fields).zip(&named.choices) {
        doc("    ", &prose::of_field(field), out);
        if prose::lends(&field.form) {
            out.push_str("    #[serde(borrow)]\n");
        }
        out.push_str(&format!("    pub {name}: {},\n", kind(&field.form, choice)));
    }
    out.push_str("}\n\n");
    let elided = if life.is_empty() { "" } else { "<'_>" };
    out.push_str(&format!("impl {}{elided} {{\n", named.kind));
    constants(message, named, out);
    checks(message, named, out);
    out.push_str("}\n\n");
    reader(message, named, out);
}

fn choose(text: &str, name: &str, words: &[String], defmt: &str, out: &mut String) {
    out.push('\n');
    doc("", text, out);
    out.push_str("#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]\n");
    out.push_str(defmt);
    out.push_str(&format!("pub enum {name} {{\n"));
    let mut variants = Names::without(&["Self"]);
    for (place, word) in words.iter().enumerate() {
        let variant = variants.pick(&camel(word), "Word");
        out.push_str(&format!("    /// {place} on the wire: {word}.\n    {variant},\n"));
    }
    out.push_str("}\n");
}

fn kind(form: &Form, choice: &str) -> String {
    match form {
        Form::Choice(_) => choice.to_owned(),
        Form::Flags(bits, _) => format!("u{bits}"),
        Form::Text(_) => "&'a str".to_owned(),
        Form::Octets(_) => "&'a [u8]".to_owned(),
        Form::List(inner, count) => format!("[{}; {count}]", kind(inner, choice)),
        Form::Optional(inner) => format!("Option<{}>", kind(inner, choice)),
        number => number.name(),
    }
}

fn constants(message: &MessageKind, named: &Named, out: &mut String) {
    out.push_str("    /// Number of the message on the wire.\n");
    out.push_str(&format!("    pub const NUMBER: u32 = {};\n", message.number));
    for (field, flags) in message.fields.iter().zip(&named.flags) {
        let Form::Flags(bits, names) = field.form.inner() else { continue };
        for (bit, (flag, name)) in flags.iter().zip(names).enumerate() {
            out.push_str(&format!("    /// The flag {name} of {}.\n", field.name));
            out.push_str(&format!("    pub const {flag}: u{bits} = 1 << {bit};\n"));
        }
    }
}

fn checks(message: &MessageKind, named: &Named, out: &mut String) {
    out.push_str("\n    /// Whether every field lies within its range.\n");
    out.push_str("    fn check(&self) -> Result<(), Wrong> {\n");
    for (field, name) in message.fields.iter().zip(&named.fields) {
        check(field, name, out);
    }
    out.push_str("        Ok(())\n    }\n");
}

fn check(field: &Field, name: &str, out: &mut String) {
    let check = Check::of(field);
    if check == Check::Nothing {
        return;
    }
    let (each, indent) = match &field.form {
        Form::List(..) => (Some(format!("&self.{name}")), "            "),
        Form::Optional(inner) if matches!(**inner, Form::List(..)) => {
            (Some(format!("self.{name}.iter().flatten()")), "            ")
        }
        Form::Optional(_) => (Some(format!("self.{name}.as_slice()")), "            "),
        _ => (None, "        "),
    };
    let (value, place) = match each {
        Some(_) => ("*value".to_owned(), "value".to_owned()),
        None => (format!("self.{name}"), format!("&self.{name}")),
    };
    let outside = match check {
        Check::Whole(Some(low), Some(high)) => format!("!({low}..={high}).contains({place})"),
        Check::Whole(Some(low), None) => format!("{value} < {low}"),
        Check::Whole(_, Some(high)) => format!("{value} > {high}"),
        Check::Single(low, high) => format!("!({low:?}..={high:?}).contains({place})"),
        Check::Double(low, high) => format!("!({low:?}..={high:?}).contains({place})"),
        Check::Most(most) => format!("{}.len() > {most}", value.trim_start_matches('*')),
        _ => return,
    };
    let fault = if matches!(check, Check::Most(_)) { "TooLong" } else { "OutOfRange" };
    if let Some(each) = &each {
        out.push_str(&format!("        for value in {each} {{\n"));
    }
    let line = format!("{indent}if {outside} {{\n");
    match outside.split_once(".contains") {
        // As rustfmt breaks it.
        Some((range, place)) if line.len() > 101 => {
            out.push_str(&format!("{indent}if {range}\n{indent}    .contains{place}\n{indent}{{\n"));
        }
        _ => out.push_str(&line),
    }
    out.push_str(&format!("{indent}    return Err((\"{}\", Fault::{fault}));\n{indent}}}\n", field.name));
    if each.is_some() {
        out.push_str("        }\n");
    }
}

fn reader(message: &MessageKind, named: &Named, out: &mut String) {
    let life = lifetime(message);
    let (of, lent) = if life.is_empty() { ("", "&[u8]") } else { ("<'a>", "&'a [u8]") };
    out.push_str(&format!("impl{of} {}{life} {{\n", named.kind));
    out.push_str("    /// Takes the fields from the front of the octets.\n");
    out.push_str(&format!("    fn take(rest: &mut {lent}) -> Result<Self, Wrong> {{\n        Ok(Self {{\n"));
    for (field, name) in message.fields.iter().zip(&named.fields) {
        out.push_str(&format!("            {name}: take(rest, \"{}\")?,\n", field.name));
    }
    out.push_str("        })\n    }\n}\n");
}
