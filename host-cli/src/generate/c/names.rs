//! What everything is called in C.

use crate::{
    agreement::Agreement,
    generate::names::{Names, capitals, snake},
    messages::Form,
};

/// Words of C and of C++, and macros of the headers that are included.
const KEPT: [&str; 92] = [
    "auto",
    "break",
    "case",
    "char",
    "const",
    "continue",
    "default",
    "do",
    "double",
    "else",
    "enum",
    "extern",
    "float",
    "for",
    "goto",
    "if",
    "inline",
    "int",
    "long",
    "register",
    "restrict",
    "return",
    "short",
    "signed",
    "sizeof",
    "static",
    "struct",
    "switch",
    "typedef",
    "union",
    "unsigned",
    "void",
    "volatile",
    "while",
    "bool",
    "true",
    "false",
    "alignas",
    "alignof",
    "and",
    "asm",
    "bitand",
    "bitor",
    "catch",
    "class",
    "compl",
    "concept",
    "consteval",
    "constexpr",
    "constinit",
    "decltype",
    "delete",
    "explicit",
    "export",
    "friend",
    "mutable",
    "namespace",
    "new",
    "noexcept",
    "not",
    "nullptr",
    "operator",
    "or",
    "private",
    "protected",
    "public",
    "requires",
    "template",
    "this",
    "throw",
    "try",
    "typeid",
    "typename",
    "using",
    "virtual",
    "xor",
    "unix",
    "linux",
    "i386",
    "typeof",
    "thread_local",
    "static_assert",
    "near",
    "far",
    "errno",
    "stdin",
    "stdout",
    "stderr",
    "interrupt",
    "char8_t",
    "char16_t",
    "wchar_t",
];

/// Ends of names that the files use themselves.
const ENDS: [&str; 8] = ["fault", "outcome", "text", "octets", "message", "encode", "decode", "fault_name"];
const CONSTANTS: [&str; 11] = [
    "H",
    "FINGERPRINT",
    "MOST_OCTETS",
    "GOOD",
    "CUT",
    "MALFORMED",
    "OUT_OF_RANGE",
    "TOO_LONG",
    "NO_SUCH_MESSAGE",
    "LEFT_OVER",
    "NO_ROOM",
];

/// One message.
#[derive(Debug)]
pub struct Named {
    /// Its struct without the prefix, its member of the union, the end of its functions.
    pub short: String,
    /// The constant of its number.
    pub number: String,
    /// Its fields.
    pub fields: Vec<String>,
    /// The member that says whether an optional field is there; empty for others.
    pub has: Vec<String>,
    /// The constants of each field's words or flags.
    pub words: Vec<Vec<String>>,
}

/// What every name begins with.
#[must_use]
pub fn prefix(agreement: &Agreement) -> String {
    snake(agreement.table.name())
}

/// Names of all messages, in their order.
#[must_use]
pub fn of(agreement: &Agreement) -> Vec<Named> {
    let big = capitals(agreement.table.name());
    let mut shorts = Names::without(&[&KEPT[..], &ENDS[..]].concat());
    let kept: Vec<_> = CONSTANTS.iter().map(|end| format!("{big}_{end}")).collect();
    let mut constants = Names::without(&kept.iter().map(String::as_str).collect::<Vec<_>>());
    let messages = agreement.table.messages();
    let numbers: Vec<_> = messages
        .iter()
        .map(|message| constants.pick(&format!("{big}_{}", capitals(&message.name)), "_"))
        .collect();
    let mut named = Vec::new();
    for (message, number) in messages.iter().zip(numbers) {
        let mut members = Names::without(&KEPT);
        let fields: Vec<_> =
            message.fields.iter().map(|field| members.pick(&snake(&field.name), "_")).collect();
        let has = message.fields.iter().zip(&fields).map(|(field, name)| match field.form {
            Form::Optional(_) => members.pick(&format!("has_{name}"), "_"),
            _ => String::new(),
        });
        let has = has.collect();
        let words = message.fields.iter().map(|field| {
            let (Form::Choice(words) | Form::Flags(_, words)) = field.form.inner() else { return Vec::new() };
            let mut of = |word: &String| {
                constants.pick(&format!("{number}_{}_{}", capitals(&field.name), capitals(word)), "_")
            };
            words.iter().map(&mut of).collect()
        });
        let words = words.collect();
        named.push(Named { short: shorts.pick(&snake(&message.name), "_"), number, fields, has, words });
    }
    named
}
