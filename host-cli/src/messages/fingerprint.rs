//! What matters of a table on the wire, as 32 bits. `host-cli/AGREEMENT.md` describes it for other languages.

use super::{Field, Form, MessageKind, Range, Scale};
use bellwire::fcs::{Fcs, Fcs32};
use std::fmt::Write;

/// CRC-32/ISO-HDLC over the outline; 0 for no messages, since 0 in an OPEN means "no agreement", and 1 where it would be 0 by chance.
pub(super) fn of(messages: &[MessageKind]) -> u32 {
    if messages.is_empty() {
        return 0;
    }
    let register = Fcs32::update(Fcs32::INIT, outline(messages).as_bytes());
    u32::from_le_bytes(Fcs32::octets(register)).max(1)
}

/// One line for each message and each of its fields, in the order of the message numbers.
pub(super) fn outline(messages: &[MessageKind]) -> String {
    let mut out = String::new();
    for message in messages {
        let fresh = message.fresh_ms.map_or_else(dash, |ms| ms.to_string());
        let at_stop = message.at_stop.map_or("-", bellwire::setpoint::Stop::name);
        let stop = message.stop.as_deref().map_or_else(dash, hex);
        let moves = if message.moves { "moves" } else { "-" };
        let (class, way) = (message.class.name(), message.way.name());
        // A String takes everything.
        let _ = writeln!(
            out,
            "message {} {} {class} {way} {fresh} {at_stop} {stop} {moves}",
            message.number, message.name
        );
        for field in &message.fields {
            outline_field(field, &mut out);
        }
    }
    out
}

fn outline_field(field: &Field, out: &mut String) {
    let unit = if field.ucum.is_empty() { "-" } else { &field.ucum };
    let Scale { factor, offset, decimals } = shortest(field.scale);
    let limits = field.form.inner().limits().map(|(low, high)| Range::Whole(low, high));
    let (low, high) = match field.range.or(limits) {
        None => (dash(), dash()),
        Some(Range::Whole(low, high)) => (low.to_string(), high.to_string()),
        Some(Range::Float(low, high)) => {
            (format!("{:016x}", low.to_bits()), format!("{:016x}", high.to_bits()))
        }
    };
    let (name, form) = (&field.name, form(&field.form));
    let _ = writeln!(out, "field {name} {form} {unit} {factor} {offset} {decimals} {low} {high}");
}

fn form(form: &Form) -> String {
    match form {
        Form::Choice(words) => format!("choice({})", words.join(",")),
        Form::Flags(bits, names) => format!("flags{bits}({})", names.join(",")),
        Form::Text(most) => format!("text({most})"),
        Form::Octets(most) => format!("octets({most})"),
        Form::List(inner, count) => format!("{count}*{}", self::form(inner)),
        Form::Optional(inner) => format!("?{}", self::form(inner)),
        plain => plain.name(),
    }
}

/// The same scale without zeros at the end: 0.10 is 0.1.
fn shortest(mut scale: Scale) -> Scale {
    while scale.decimals > 0 && scale.factor % 10 == 0 && scale.offset % 10 == 0 {
        scale = Scale { factor: scale.factor / 10, offset: scale.offset / 10, decimals: scale.decimals - 1 };
    }
    scale
}

fn dash() -> String {
    "-".to_owned()
}

fn hex(octets: &[u8]) -> String {
    octets.iter().map(|octet| format!("{octet:02x}")).collect()
}
