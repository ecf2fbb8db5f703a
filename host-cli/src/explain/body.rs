//! What follows the head: an OPEN, an extension's body, or a message with its fields.

use bellwire::{
    frame::{Class, Kind, MessageNumber, Reject},
    star::{Carried, FarOutcome, Relayed},
};

use super::{
    Explained,
    crcs::hex,
    head::{Rest, number},
};
use crate::{
    beyond::Beyond,
    messages::{Field, MessageKind, Table},
    report::harmless,
};

/// The message number of what is relayed (W-68).
const RELAYED: u16 = 16_382;

/// The fields of an OPEN (section 4): name, octets.
const OPEN: [(&str, usize); 9] = [
    ("wire version", 1),
    ("flags", 1),
    ("own number", 4),
    ("echo", 4),
    ("window", 1),
    ("largest payload", 2),
    ("fingerprint of the agreement", 4),
    ("silence, in units of 100 ms", 1),
    ("identity", 8),
];

/// Tells the body of a frame; `refused` is what the head was refused for, `beyond` what an extension beyond two boards says.
pub(super) fn explain(
    kind: Kind,
    refused: Option<Reject>,
    beyond: Option<&Beyond<'_>>,
    rest: &mut Rest<'_>,
    table: &Table,
    told: &mut Explained,
) {
    match (kind, kind.class()) {
        (Kind::Open, _) => open(rest, table, told),
        (_, Some(class)) if rest.len() > 0 => message(class, refused, rest, table, told),
        (_, Some(class)) if class.is_confirmed() => {}
        _ => {}
    }
    if let (Kind::Extended, Some(beyond)) = (kind, beyond) {
        for field in &beyond.fields {
            let (at, octets) = rest.take(field.len);
            told.part(at, &octets, format!("{} {}", field.name, field.value));
        }
    }
    if rest.len() > 0 {
        let what = if kind == Kind::Extended { "body of the extension" } else { "octets left over" };
        let (at, octets) = rest.take(usize::MAX);
        told.part(at, &octets, what);
    }
}

fn open(rest: &mut Rest<'_>, table: &Table, told: &mut Explained) {
    for (name, len) in OPEN {
        let (at, octets) = rest.take(len);
        if octets.is_empty() {
            return;
        }
        let value = number(&octets);
        let text = match name {
            "flags" => {
                let ask = if value & 1 != 0 { "asks" } else { "does not ask" };
                let echo = if value & 2 != 0 { "echo is there" } else { "no echo" };
                format!("flags {value:08b}: {ask}, {echo}")
            }
            "fingerprint of the agreement" if value != 0 => {
                format!("{name}: {}", table.called(u32::try_from(value).unwrap_or(0)))
            }
            "own number" | "echo" | "identity" => format!("{name} 0x{value:X}"),
            _ => format!("{name} {value}"),
        };
        told.part(at, &octets, text);
    }
}

fn message(class: Class, refused: Option<Reject>, rest: &mut Rest<'_>, table: &Table, told: &mut Explained) {
    let payload = rest.values();
    let Ok((number, body)) = MessageNumber::split(&payload) else { return };
    let (at, octets) = rest.take(payload.len() - body.len());
    if number.get() == RELAYED && class.is_confirmed() {
        return relayed(class, &payload, (at, &octets), rest, table, told);
    }
    let Some(kind) = table.get(number.get()) else {
        told.part(at, &octets, format!("message number {}", number.get()));
        told.wrong(at, "", format!("{} has no message {}", table.title(), number.get()));
        return;
    };
    told.part(at, &octets, format!("message number {}: {}", number.get(), kind.name));
    if kind.class != class {
        let (wanted, found) = (kind.class.name(), class.name());
        told.wrong(at, "", format!("{} is of class {wanted}, and this frame of class {found}", kind.name));
    }
    if refused.is_none() {
        fields(kind, rest, told);
    }
}

/// What stands before a message that travels from leaf to leaf by way of the hub (W-68), and the message.
fn relayed(
    class: Class,
    payload: &[u8],
    (at, number): (usize, &[u8]),
    rest: &mut Rest<'_>,
    table: &Table,
    told: &mut Explained,
) {
    told.part(at, number, format!("message number {RELAYED}: from leaf to leaf by way of the hub (W-68)"));
    let read = Relayed::parse(payload);
    let (at, what) = rest.take(1);
    let (other_at, other) = rest.take(1);
    let (name_at, name) = rest.take(1);
    let relayed = match read {
        Ok(Some(relayed)) => relayed,
        Ok(None) => return,
        Err(why) => {
            told.part(at, &what, "what it is");
            return told.wrong(at, "", why.to_string());
        }
    };
    told.part(
        at,
        &what,
        match relayed.carried {
            Carried::Message(_) => "a message follows",
            Carried::Outcome(FarOutcome::Delivered) => "what became of a message: delivered",
            Carried::Outcome(FarOutcome::NotSent) => "what became of a message: not sent",
            Carried::Outcome(FarOutcome::Unknown) => "what became of a message: unknown",
        },
    );
    told.part(other_at, &other, format!("the other leaf: {}", table.who(relayed.other)));
    told.part(name_at, &name, format!("name {}, which the first leaf chose", relayed.name));
    if matches!(relayed.carried, Carried::Message(_)) {
        message(class, None, rest, table, told);
    }
}

fn fields(kind: &MessageKind, rest: &mut Rest<'_>, told: &mut Explained) {
    for field in &kind.fields {
        let octets = rest.values();
        let mut left = octets.as_slice();
        let Some(value) = field.take(&mut left) else {
            unreadable(kind, field, rest, told);
            return;
        };
        let (at, taken) = rest.take(octets.len() - left.len());
        let unit = if field.unit.is_empty() { String::new() } else { format!(" {}", field.unit) };
        told.part(at, &taken, format!("{} = {}{unit}", field.name, harmless(&value.plain())));
        if !field.allows(&value) {
            let (name, value) = (&field.name, value.plain());
            told.wrong(
                at,
                "",
                format!("{name} is {value}{unit}, out of its range: it takes {}", field.takes()),
            );
        }
        let mut shortest = Vec::new();
        if field.write(&value.plain(), &mut shortest).is_some() && shortest.len() < taken.len() {
            let what =
                format!("{} is longer than it need be; the shortest form is {}", field.name, hex(&shortest));
            told.wrong(at, "", what);
        }
    }
    if rest.len() > 0 {
        let what = format!(
            "{} ends here, and {} octets are left over: has the sender another version of the agreement?",
            kind.name,
            rest.len()
        );
        told.wrong(rest.place(), "", what);
    }
}

fn unreadable(kind: &MessageKind, field: &Field, rest: &mut Rest<'_>, told: &mut Explained) {
    let (at, left) = (rest.place(), rest.len());
    let form = field.form.name();
    let what = if left == 0 {
        format!("{} ends before its field {} ({form})", kind.name, field.name)
    } else {
        format!(
            "{}: these {left} octets are no {form}, or end inside it; it takes {}",
            field.name,
            field.takes()
        )
    };
    told.wrong(at, "", what);
}
