//! One `[[message.field]]`.

use super::{
    fault::{Faults, Span},
    head::choose,
    keys::{self, TYPES},
    name::{Seen, name},
    section::{Placed, Section, decimal, found, shown},
    units,
};
use crate::messages::{Decimal, Field, Form, Range, Scale};
use toml::de::{DeTable, DeValue};

/// What people write elsewhere, and what it is called here.
const SLIPS: [(&str, &str); 20] = [
    ("int8", "i8"),
    ("int16", "i16"),
    ("int32", "i32"),
    ("int64", "i64"),
    ("int", "i32"),
    ("uint8", "u8"),
    ("uint16", "u16"),
    ("uint32", "u32"),
    ("uint64", "u64"),
    ("byte", "u8"),
    ("float", "f32"),
    ("float32", "f32"),
    ("double", "f64"),
    ("float64", "f64"),
    ("string", "text"),
    ("str", "text"),
    ("bytes", "octets"),
    ("enum", "choice"),
    ("bitfield", "flags"),
    ("boolean", "bool"),
];

/// Keys that go with some types only, and the types.
const FITTING: [(&str, &[&str]); 7] = [
    ("unit", &TYPES_OF_NUMBERS),
    ("range", &TYPES_OF_NUMBERS),
    ("scale", TYPES_OF_WHOLE),
    ("offset", TYPES_OF_WHOLE),
    ("words", &["choice"]),
    ("names", &["flags"]),
    ("bits", &["flags"]),
];
const TYPES_OF_NUMBERS: [&str; 10] = ["u8", "u16", "u32", "u64", "i8", "i16", "i32", "i64", "f32", "f64"];
const TYPES_OF_WHOLE: &[&str] = &["u8", "u16", "u32", "u64", "i8", "i16", "i32", "i64"];

/// Most words of a choice.
const WORDS: usize = 256;
/// Most values of a list: as many as serde's arrays have.
const COUNT: (u32, u32) = (1, 32);
/// Most octets of a text or of octets.
const MOST: (u32, u32) = (1, 1000);
/// Most decimal places, and most digits, of a scale or an offset.
const PLACES: u8 = 9;
const DIGITS: i128 = 1_000_000_000_000_000;

/// Reads one field: the field, its value in the set-point that stops, and where its name stands.
pub(super) fn read<'d>(
    of: &str,
    table: &'d DeTable<'d>,
    at: Span,
    is_set_point: bool,
    source: &str,
    faults: &mut Faults,
) -> (Field, Option<String>, Option<Span>) {
    let mut section = Section::new(format!("a field of {of}"), at, table, &keys::FIELD, faults);
    let named = section.need("name", "name = \"rate\"", faults);
    let name = named.as_ref().map_or_else(String::new, |(text, at)| name("field", text, at, faults));
    if !name.is_empty() {
        section.what = format!("field '{name}' of {of}");
    }
    let mut field = Field::new(&name, Form::Bool);
    field.text = section.prose("text", faults);
    let kind = kind(&section, faults);
    if let Some(kind) = kind {
        unfitting(&section, kind, faults);
        field.form = base(&section, kind, source, faults);
        unit(&section, &mut field, faults);
        field.scale = scale(&section, faults);
        field.range = range(&section, &field, faults);
    }
    around(&section, &mut field, faults);
    let stop = at_stop(&section, &field, is_set_point, faults);
    (field, stop, named.map(|(_, at)| at))
}

fn kind(section: &Section<'_>, faults: &mut Faults) -> Option<&'static str> {
    let example = format!("type = one of {}", TYPES.join(", "));
    let (text, at) = section.need("type", &example, faults)?;
    let known = TYPES.iter().find(|known| **known == text);
    if known.is_none() {
        let slip = SLIPS.iter().find(|(slip, _)| *slip == text);
        let instead = match slip {
            Some((_, right)) => format!("write \"{right}\""),
            None => choose(text, TYPES.iter().copied()),
        };
        faults.add(&at, format!("there is no type '{}'", shown(text)), instead);
    }
    known.copied()
}

/// Keys that say nothing for this type.
fn unfitting(section: &Section<'_>, kind: &str, faults: &mut Faults) {
    for (key, kinds) in FITTING {
        if section.has(key) && !kinds.contains(&kind) {
            let instead = format!("leave it out; it goes with {}", kinds.join(", "));
            faults.add(&section.place(key), format!("{kind} has no {key}"), instead);
        }
    }
    if section.has("most") && !matches!(kind, "text" | "octets") {
        let instead = "leave it out; range bounds a number, count the values of a list";
        faults.add(&section.place("most"), format!("{kind} has no most"), instead);
    }
}

fn base(section: &Section<'_>, kind: &str, source: &str, faults: &mut Faults) -> Form {
    match kind {
        "bool" => Form::Bool,
        "u8" => Form::U8,
        "u16" => Form::U16,
        "u32" => Form::U32,
        "u64" => Form::U64,
        "i8" => Form::I8,
        "i16" => Form::I16,
        "i32" => Form::I32,
        "i64" => Form::I64,
        "f32" => Form::F32,
        "f64" => Form::F64,
        "choice" => Form::Choice(words(section, "words", "word", source, faults)),
        "flags" => flags(section, source, faults),
        "text" => Form::Text(most(section, faults)),
        _ => Form::Octets(most(section, faults)),
    }
}

fn most(section: &Section<'_>, faults: &mut Faults) -> u16 {
    section.missing("most", "most = 40, the most octets that it holds", faults);
    section.whole("most", MOST, faults).map_or(1, |(most, _)| u16::try_from(most).unwrap_or(u16::MAX))
}

fn words(
    section: &Section<'_>,
    key: &'static str,
    what: &'static str,
    source: &str,
    faults: &mut Faults,
) -> Vec<String> {
    let example = format!("{key} = [\"open\", \"close\"], in the order of their numbers from 0");
    section.missing(key, &example, faults);
    let Some((words, at)) = section.strings(key, &example, faults) else { return Vec::new() };
    if words.is_empty() || words.len() > WORDS {
        let many = words.len();
        faults.add(&at, format!("{many} {key} are no choice"), format!("give 1 to {WORDS}"));
        return Vec::new();
    }
    let mut seen = Seen::new(what);
    let mut taken = Vec::new();
    for (text, at) in words {
        if text == "none" || text.strip_prefix("bit").is_some_and(|n| n.parse::<u8>().is_ok()) {
            let why = "none stands for no value at all, and bit0, bit1 … for flags without a name";
            faults.add(&at, format!("'{text}' cannot be a {what}"), why);
            continue;
        }
        let word = name(what, text, &at, faults);
        if !word.is_empty() {
            seen.add(word.clone(), &at, source, faults);
        }
        taken.push(word);
    }
    taken
}

fn flags(section: &Section<'_>, source: &str, faults: &mut Faults) -> Form {
    let names = words(section, "names", "flag", source, faults);
    let least = [8_u8, 16, 32, 64].into_iter().find(|&bits| names.len() <= usize::from(bits));
    let Some(least) = least else {
        let many = names.len();
        faults.add(&section.place("names"), format!("{many} flags are too many"), "64 bits hold 64 flags");
        return Form::Flags(64, Vec::new());
    };
    let bits = match section.whole("bits", (8, 64), faults) {
        None => least,
        Some((bits, at)) => {
            let bits = u8::try_from(bits).unwrap_or(0);
            if ![8, 16, 32, 64].contains(&bits) || bits < least {
                faults.add(
                    &at,
                    format!("flags cannot have {bits} bits"),
                    format!("write bits = {least} or more: 8, 16, 32 or 64"),
                );
            }
            bits.max(least)
        }
    };
    Form::Flags(bits, names)
}

fn unit(section: &Section<'_>, field: &mut Field, faults: &mut Faults) {
    let Some((text, at)) = section.string("unit", "unit = \"deg/s\"", faults) else { return };
    match units::symbol(text) {
        Some(symbol) => {
            field.unit = symbol;
            field.ucum = if text == "1" { String::new() } else { text.to_owned() };
        }
        None => faults.add(&at, format!("there is no unit '{}'", shown(text)), units::instead(text)),
    }
}

fn scale(section: &Section<'_>, faults: &mut Faults) -> Scale {
    let one = Decimal { number: 1, places: 0 };
    let mut read = |key: &str, nothing: Decimal| -> Option<Placed<Decimal>> {
        let example = format!("{key} as a decimal number, for instance {key} = 0.01");
        let Some((value, at)) = section.decimal(key, &example, faults) else {
            return Some((nothing, section.at.clone()));
        };
        if value.places > PLACES || value.number.abs() >= DIGITS {
            faults.add(
                &at,
                format!("{key} has too many digits"),
                format!("at most {PLACES} decimal places and 15 digits"),
            );
            return None;
        }
        Some((value, at))
    };
    let (scale, offset) = (read("scale", one), read("offset", Decimal { number: 0, places: 0 }));
    let (Some((scale, scale_at)), Some((offset, _))) = (scale, offset) else { return Scale::default() };
    if scale.number <= 0 {
        faults.add(
            &scale_at,
            "scale must be above zero",
            "for a value that runs the other way, let the board turn its sign",
        );
        return Scale::default();
    }
    let decimals = scale.places.max(offset.places);
    let at = |value: Decimal| value.at(decimals).and_then(|number| i64::try_from(number).ok());
    match (at(scale), at(offset)) {
        (Some(factor), Some(offset)) => Scale { factor, offset, decimals },
        _ => {
            faults.add(&scale_at, "scale and offset together have too many digits", "use fewer");
            Scale::default()
        }
    }
}

fn range(section: &Section<'_>, field: &Field, faults: &mut Faults) -> Option<Range> {
    let value = section.get("range")?;
    let at = value.span();
    let ends = value.get_ref().as_array().filter(|list| list.len() == 2).and_then(|list| {
        list.iter().map(|end| Some((end.get_ref(), end.span()))).collect::<Option<Vec<_>>>()
    });
    let Some([(low, low_at), (high, high_at)]) = ends.as_deref() else {
        faults.add(
            &at,
            format!("range cannot be {}", found(value.get_ref())),
            "write range = [lowest, highest], in the field's unit",
        );
        return None;
    };
    let range = if let Some(limits) = field.form.limits() {
        let low = whole_end(field, limits, low, low_at, faults)?;
        Range::Whole(low, whole_end(field, limits, high, high_at, faults)?)
    } else if matches!(field.form, Form::F32 | Form::F64) {
        let low = float_end(field, low, low_at, faults)?;
        Range::Float(low, float_end(field, high, high_at, faults)?)
    } else {
        return None;
    };
    let is_empty = match range {
        Range::Whole(low, high) => low > high,
        Range::Float(low, high) => low > high,
    };
    if is_empty {
        faults.add(&at, "the range is empty", "the lower end goes first");
    }
    (!is_empty).then_some(range)
}

/// One end of a range as the number that travels.
fn whole_end(
    field: &Field,
    (low, high): (i128, i128),
    value: &DeValue<'_>,
    at: &Span,
    faults: &mut Faults,
) -> Option<i128> {
    let Some(end) = decimal(value) else {
        faults.add(at, format!("a range cannot end at {}", found(value)), "write a decimal number");
        return None;
    };
    let Some(raw) = field.scale.raw(end) else {
        let step = field.scale.step();
        faults.add(
            at,
            format!("{end} lies between two values"),
            format!("the field goes in steps of {step}"),
        );
        return None;
    };
    if !(low..=high).contains(&raw) {
        let (low, high, unit) = (field.scale.value(low), field.scale.value(high), &field.unit);
        let what = format!("{end} is outside of {}", field.form.name());
        faults.add(at, what, format!("it holds {low} to {high} {unit}").trim_end().to_owned());
        return None;
    }
    Some(raw)
}

fn float_end(field: &Field, value: &DeValue<'_>, at: &Span, faults: &mut Faults) -> Option<f64> {
    let text = match value {
        DeValue::Integer(number) if number.radix() == 10 => Some(number.as_str()),
        DeValue::Float(number) => Some(number.as_str()),
        _ => None,
    };
    let number =
        text.and_then(|text| text.replace('_', "").parse::<f64>().ok()).filter(|end| end.is_finite());
    let largest = if field.form == Form::F32 { f64::from(f32::MAX) } else { f64::MAX };
    match number {
        Some(end) if end.abs() <= largest => Some(end),
        Some(end) => {
            faults.add(at, format!("{end:e} is outside of f32"), "write f64, or a smaller number");
            None
        }
        None => {
            faults.add(at, format!("a range cannot end at {}", found(value)), "write a decimal number");
            None
        }
    }
}

/// Lists and optional values: what is put around the type.
fn around(section: &Section<'_>, field: &mut Field, faults: &mut Faults) {
    let mut form = std::mem::replace(&mut field.form, Form::Bool);
    if let Some((count, at)) = section.whole("count", COUNT, faults) {
        if matches!(form, Form::Text(_) | Form::Octets(_)) {
            faults.add(&at, "a list of texts or octets has no fixed length", "give each a field of its own");
        }
        form = Form::List(Box::new(form), u8::try_from(count).unwrap_or(u8::MAX));
    }
    if section.boolean("optional", faults).is_some_and(|(optional, _)| optional) {
        form = Form::Optional(Box::new(form));
    }
    field.form = form;
}

/// The value that the field has in the set-point that stops, as text.
fn at_stop(section: &Section<'_>, field: &Field, is_set_point: bool, faults: &mut Faults) -> Option<String> {
    let value = section.get("at-stop")?;
    let at = value.span();
    if !is_set_point {
        faults.add(&at, "only a field of a set-point has at-stop", "leave it out");
        return None;
    }
    let text = match value.get_ref() {
        DeValue::String(text) => text.clone().into_owned(),
        DeValue::Boolean(value) => value.to_string(),
        number => decimal(number).map_or_else(String::new, |number| number.to_string()),
    };
    if field.write(&text, &mut Vec::new()).is_none() {
        faults.add(
            &at,
            format!("at-stop cannot be {}", found(value.get_ref())),
            format!("the field takes {}", field.takes()),
        );
        return None;
    }
    Some(text)
}

/// The text of the value that is nearest to nothing: 0 or what stands for no value, false, the first word.
pub(super) fn nothing(field: &Field) -> String {
    fn of(form: &Form) -> String {
        match form {
            Form::Bool => "false".into(),
            Form::Choice(words) => words.first().cloned().unwrap_or_default(),
            Form::Flags(..) | Form::Optional(_) => "none".into(),
            Form::Text(_) | Form::Octets(_) => String::new(),
            Form::List(inner, count) => vec![of(inner); usize::from(*count)].join(","),
            _ => "0".into(),
        }
    }
    of(&field.form)
}
