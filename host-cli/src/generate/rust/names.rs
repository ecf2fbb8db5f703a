//! What everything is called in Rust.

use crate::{
    generate::names::{Names, camel, capitals, snake},
    messages::{Field, Form, Table},
};

/// Words of Rust, and `self`-like ones that no raw name can stand for.
const KEPT: [&str; 52] = [
    "as", "async", "await", "break", "const", "continue", "crate", "dyn", "else", "enum", "extern", "false",
    "fn", "for", "gen", "if", "impl", "in", "let", "loop", "match", "mod", "move", "mut", "pub", "ref",
    "return", "self", "static", "struct", "super", "trait", "true", "type", "unsafe", "use", "where",
    "while", "abstract", "become", "box", "do", "final", "macro", "override", "priv", "try", "typeof",
    "unsized", "virtual", "yield", "union",
];

/// Types that the file uses itself.
const TYPES: [&str; 24] = [
    "Self",
    "Message",
    "Error",
    "Fault",
    "Wrong",
    "Numbers",
    "Option",
    "Some",
    "None",
    "Result",
    "Ok",
    "Err",
    "Serialize",
    "Serializer",
    "Deserialize",
    "Deserializer",
    "EnumAccess",
    "VariantAccess",
    "Visitor",
    "Formatter",
    "Copy",
    "Clone",
    "Debug",
    "PartialEq",
];

/// One message.
#[derive(Debug)]
pub struct Named {
    /// Its struct, and its variant.
    pub kind: String,
    /// Its fields.
    pub fields: Vec<String>,
    /// The type of each field that is a choice; empty for others.
    pub choices: Vec<String>,
    /// The constant of each flag, field by field.
    pub flags: Vec<Vec<String>>,
}

/// Names of all messages, in their order.
#[must_use]
pub fn of(table: &Table) -> Vec<Named> {
    let mut types = Names::without(&TYPES);
    let kinds: Vec<_> =
        table.messages().iter().map(|message| types.pick(&camel(&message.name), "Message")).collect();
    let mut named = Vec::new();
    for (message, kind) in table.messages().iter().zip(kinds) {
        let mut members = Names::without(&KEPT);
        let mut constants = Names::without(&["NUMBER"]);
        let fields = message.fields.iter().map(|field| members.pick(&snake(&field.name), "_")).collect();
        let choices = message.fields.iter().map(|field| match field.form.inner() {
            Form::Choice(_) => types.pick(&format!("{kind}{}", camel(&field.name)), "Choice"),
            _ => String::new(),
        });
        let choices = choices.collect();
        let flags = message.fields.iter().map(|field| flags(field, &mut constants)).collect();
        named.push(Named { kind, fields, choices, flags });
    }
    named
}

fn flags(field: &Field, constants: &mut Names) -> Vec<String> {
    let Form::Flags(_, names) = field.form.inner() else { return Vec::new() };
    names
        .iter()
        .map(|name| constants.pick(&format!("{}_{}", capitals(&field.name), capitals(name)), "_"))
        .collect()
}
