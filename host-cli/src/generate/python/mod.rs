//! Python: one file that needs nothing but the language, fit for small interpreters on boards.

use super::{
    names::{Names, capitals},
    needs, prose, sections,
};
use crate::{
    agreement::Agreement,
    messages::{Field, Form, MessageKind, Range},
};

/// Names that the file uses itself, and words of the language in capitals: there are none.
const KEPT: [&str; 3] = ["FINGERPRINT", "MESSAGES", "NAMES"];

/// The file.
#[must_use]
pub fn file(agreement: &Agreement) -> String {
    let table = &agreement.table;
    let mut out = String::new();
    for line in prose::of_file(agreement) {
        comment("", &line, &mut out);
    }
    let fixed = sections::taken(include_str!("fixed.py.txt"), &needs::of(table));
    out.push_str(&format!("\nFINGERPRINT = 0x{:08x}\n\n", table.fingerprint()));
    constants(table.messages(), &mut out);
    out.push_str("\nNAMES = {\n");
    for message in table.messages() {
        out.push_str(&format!("    {}: \"{}\",\n", message.number, message.name));
    }
    out.push_str("}\n\n# The fields of each message: name, type, lowest and highest value (of a choice its words; of text and octets the\n");
    out.push_str(
        "# most octets), how many values if it is a list, whether it may be missing.\nMESSAGES = {\n",
    );
    for message in table.messages() {
        comment("    ", &prose::of_message(message, &agreement.hub), &mut out);
        out.push_str(&format!("    {}: (", message.number));
        if !message.fields.is_empty() {
            out.push('\n');
            for field in &message.fields {
                comment("        ", &prose::of_field(field), &mut out);
                out.push_str(&format!("        {},\n", entry(field)));
            }
            out.push_str("    ");
        }
        out.push_str("),\n");
    }
    out.push_str("}\n");
    out.push_str(&fixed);
    out
}

fn comment(indent: &str, text: &str, out: &mut String) {
    if text.is_empty() {
        out.push_str(&format!("{indent}#\n"));
    }
    for line in prose::folded(text, 100 - indent.len()) {
        out.push_str(format!("{indent}# {line}").trim_end());
        out.push('\n');
    }
}

/// Numbers of messages, and flags.
fn constants(messages: &[MessageKind], out: &mut String) {
    let mut names = Names::without(&KEPT);
    for message in messages {
        out.push_str(&format!("{} = {}\n", names.pick(&capitals(&message.name), "_"), message.number));
    }
    for message in messages {
        for field in &message.fields {
            let Form::Flags(_, flags) = field.form.inner() else { continue };
            for (bit, flag) in flags.iter().enumerate() {
                let wanted = [&message.name, &field.name, flag].map(|name| capitals(name)).join("_");
                out.push_str(&format!("{} = 1 << {bit}\n", names.pick(&wanted, "_")));
            }
        }
    }
}

fn entry(field: &Field) -> String {
    let form = field.form.inner();
    let none = || "None".to_owned();
    let (kind, low, high) = match form {
        Form::Choice(words) => {
            let words: String = words.iter().map(|word| format!("\"{word}\", ")).collect();
            ("choice".to_owned(), format!("({},)", words.trim_end_matches(", ")), none())
        }
        Form::Flags(bits, _) => (
            format!("u{bits}"),
            "0".to_owned(),
            (u64::MAX >> (64 - u32::from(*bits).clamp(1, 64))).to_string(),
        ),
        Form::Text(most) => ("text".to_owned(), none(), most.to_string()),
        Form::Octets(most) => ("octets".to_owned(), none(), most.to_string()),
        number => {
            let (low, high) = match (field.range, form.limits()) {
                (Some(Range::Whole(low, high)), _) | (None, Some((low, high))) => {
                    (low.to_string(), high.to_string())
                }
                (Some(Range::Float(low, high)), _) => (format!("{low:?}"), format!("{high:?}")),
                _ => (none(), none()),
            };
            (number.name(), low, high)
        }
    };
    let (optional, inside) = match &field.form {
        Form::Optional(inside) => ("True", &**inside),
        form => ("False", form),
    };
    let count = if let Form::List(_, count) = inside { *count } else { 0 };
    format!("(\"{}\", \"{kind}\", {low}, {high}, {count}, {optional})", field.name)
}
