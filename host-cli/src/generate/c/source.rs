//! The source: for each message how it is checked, written and read.

use super::{Named, comment, named, prefix};
use crate::{
    agreement::Agreement,
    generate::{check::Check, names::capitals, needs, prose, sections},
    messages::{Field, Form, MessageKind},
};

/// The source.
#[must_use]
pub fn source(agreement: &Agreement) -> String {
    let (prefix, big, table) = (prefix(agreement), capitals(agreement.table.name()), &agreement.table);
    let names = named(agreement);
    let mut out = String::new();
    comment("", &prose::of_file(agreement).join("\n"), &mut out);
    out.push_str(&format!("#include \"{}.h\"\n", table.name()));
    let fixed = sections::taken(include_str!("fixed.c.txt"), &needs::of(table));
    out.push_str(&fixed.replace("PREFIX", &prefix).replace("CAPITALS", &big));
    let each: Vec<_> = table.messages().iter().zip(&names).collect();
    let writer = Writer { prefix: &prefix, big: &big };
    for (message, named) in &each {
        writer.check(message, named, &mut out);
        writer.put(message, named, &mut out);
        writer.take(message, named, &mut out);
    }
    writer.whole(&each, &mut out);
    out
}

struct Writer<'n> {
    prefix: &'n str,
    big: &'n str,
}

/// Whether a message has anything to check.
fn is_checked(message: &MessageKind) -> bool {
    message.fields.iter().any(|field| is_choice(field) || Check::of(field) != Check::Nothing)
}

/// Whether it is a choice whose number could be that of no word.
fn is_choice(field: &Field) -> bool {
    matches!(field.form.inner(), Form::Choice(words) if words.len() < 256)
}

/// Statements about each value of a field, with what goes around them for lists and optional fields.
fn around(field: &Field, name: &str, has: &str, statements: impl Fn(&str, &str) -> String) -> String {
    let mut indent = "    ".to_owned();
    let mut out = String::new();
    let mut closing = Vec::new();
    let mut place = format!("body->{name}");
    let mut form = &field.form;
    if let Form::Optional(inner) = form {
        out.push_str(&format!("{indent}if (body->{has}) {{\n"));
        closing.push(indent.clone());
        indent.push_str("    ");
        form = inner;
    }
    if let Form::List(_, count) = form {
        out.push_str(&format!("{indent}for (size_t i = 0; i < {count}; i++) {{\n"));
        closing.push(indent.clone());
        indent.push_str("    ");
        place.push_str("[i]");
    }
    out.push_str(&statements(&place, &indent));
    for indent in closing.iter().rev() {
        out.push_str(&format!("{indent}}}\n"));
    }
    out
}

/// A whole number as C writes it for a type of this form.
fn whole(number: i128, form: &Form) -> String {
    match form {
        Form::U32 => format!("UINT32_C({number})"),
        Form::U64 => format!("UINT64_C({number})"),
        Form::I64 => format!("INT64_C({number})"),
        _ => number.to_string(),
    }
}

impl Writer<'_> {
    fn check(&self, message: &MessageKind, named: &Named, out: &mut String) {
        let Self { prefix, big } = self;
        if !is_checked(message) {
            return;
        }
        let short = &named.short;
        out.push_str(&format!(
            "static void check_{short}(const struct {prefix}_{short} *body, struct {prefix}_outcome *outcome)\n{{\n"
        ));
        for ((field, name), has) in message.fields.iter().zip(&named.fields).zip(&named.has) {
            let form = field.form.inner();
            let outside = |value: &str| {
                let both =
                    |low: String, high: String| Some(format!("!({value} >= {low} && {value} <= {high})"));
                match (Check::of(field), form) {
                    (_, Form::Choice(words)) if is_choice(field) => {
                        Some(format!("{value} >= {}", words.len()))
                    }
                    (Check::Whole(Some(low), Some(high)), _) => {
                        Some(format!("{value} < {} || {value} > {}", whole(low, form), whole(high, form)))
                    }
                    (Check::Whole(Some(low), None), _) => Some(format!("{value} < {}", whole(low, form))),
                    (Check::Whole(None, Some(high)), _) => Some(format!("{value} > {}", whole(high, form))),
                    (Check::Single(low, high), _) => both(format!("{low:?}f"), format!("{high:?}f")),
                    (Check::Double(low, high), _) => both(format!("{low:?}"), format!("{high:?}")),
                    (Check::Most(most), _) => Some(format!("{value}.count > {most}")),
                    _ => None,
                }
            };
            if outside("").is_none() {
                continue;
            }
            let fault = if matches!(Check::of(field), Check::Most(_)) { "TOO_LONG" } else { "OUT_OF_RANGE" };
            out.push_str(&around(field, name, has, |value, indent| {
                let outside = outside(value).unwrap_or_default();
                format!("{indent}if ({outside}) {{\n{indent}    fail(outcome, {big}_{fault}, \"{}\");\n{indent}}}\n", field.name)
            }));
        }
        out.push_str("}\n\n");
    }

    fn put(&self, message: &MessageKind, named: &Named, out: &mut String) {
        if message.fields.is_empty() {
            return;
        }
        let (prefix, short) = (self.prefix, &named.short);
        out.push_str(&format!(
            "static void encode_{short}(struct out *out, const struct {prefix}_{short} *body)\n{{\n"
        ));
        for ((field, name), has) in message.fields.iter().zip(&named.fields).zip(&named.has) {
            if !has.is_empty() {
                out.push_str(&format!("    put_octet(out, body->{has} ? 1 : 0);\n"));
            }
            out.push_str(&around(field, name, has, |value, indent| {
                let call = match field.form.inner() {
                    Form::U8 | Form::Flags(8, _) => format!("put_octet(out, {value})"),
                    Form::I8 => format!("put_octet(out, (uint8_t){value})"),
                    Form::Bool => format!("put_octet(out, {value} ? 1 : 0)"),
                    Form::I16 | Form::I32 | Form::I64 => format!("put_signed(out, {value})"),
                    Form::F32 => format!("put_f32(out, {value})"),
                    Form::F64 => format!("put_f64(out, {value})"),
                    Form::Text(_) => format!("put_text(out, {value}, \"{}\")", field.name),
                    Form::Octets(_) => format!("put_octets(out, {value})"),
                    _ => format!("put_number(out, {value})"),
                };
                format!("{indent}{call};\n")
            }));
        }
        out.push_str("}\n\n");
    }

    fn take(&self, message: &MessageKind, named: &Named, out: &mut String) {
        if message.fields.is_empty() {
            return;
        }
        let (prefix, short) = (self.prefix, &named.short);
        out.push_str(&format!(
            "static void decode_{short}(struct in *in, struct {prefix}_{short} *body)\n{{\n"
        ));
        for ((field, name), has) in message.fields.iter().zip(&named.fields).zip(&named.has) {
            let of = &field.name;
            if !has.is_empty() {
                out.push_str(&format!("    body->{has} = take_bool(in, \"{of}\");\n"));
            }
            out.push_str(&around(field, name, has, |place, indent| {
                let value = match field.form.inner() {
                    Form::U8 | Form::Flags(8, _) => format!("take_octet(in, \"{of}\")"),
                    Form::I8 => format!("(int8_t)take_octet(in, \"{of}\")"),
                    Form::Bool => format!("take_bool(in, \"{of}\")"),
                    Form::U16 | Form::Flags(16, _) => format!("(uint16_t)take_number(in, \"{of}\", 16)"),
                    Form::U32 | Form::Flags(32, _) => format!("(uint32_t)take_number(in, \"{of}\", 32)"),
                    Form::I16 => format!("(int16_t)take_signed(in, \"{of}\", 16)"),
                    Form::I32 => format!("(int32_t)take_signed(in, \"{of}\", 32)"),
                    Form::I64 => format!("take_signed(in, \"{of}\", 64)"),
                    Form::F32 => format!("take_f32(in, \"{of}\")"),
                    Form::F64 => format!("take_f64(in, \"{of}\")"),
                    Form::Choice(words) => format!("take_word(in, \"{of}\", {})", words.len()),
                    Form::Text(_) => format!("take_text(in, \"{of}\")"),
                    Form::Octets(_) => format!("take_octets(in, \"{of}\")"),
                    _ => format!("take_number(in, \"{of}\", 64)"),
                };
                format!("{indent}{place} = {value};\n")
            }));
        }
        out.push_str("}\n\n");
    }

    fn whole(&self, each: &[(&MessageKind, &Named)], out: &mut String) {
        let cases = |what: &str, is_wanted: &dyn Fn(&MessageKind) -> bool| {
            let mut text = String::new();
            for (message, named) in each {
                text.push_str(&format!("    case {}:\n", named.number));
                if is_wanted(message) {
                    text.push_str(&format!("        {};\n", what.replace("NAME", &named.short)));
                }
                text.push_str("        break;\n");
            }
            text
        };
        let has_fields = |message: &MessageKind| !message.fields.is_empty();
        let text = include_str!("whole.c.txt")
            .replace("PREFIX", self.prefix)
            .replace("CAPITALS", self.big)
            .replace("CHECKS_HERE\n", &cases("check_NAME(&message->as.NAME, outcome)", &is_checked))
            .replace("PUTS_HERE\n", &cases("encode_NAME(&out, &message->as.NAME)", &has_fields))
            .replace("TAKES_HERE\n", &cases("decode_NAME(&in, &message->as.NAME)", &has_fields));
        out.push_str(&text);
    }
}
