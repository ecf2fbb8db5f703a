//! What a board with one version of an agreement does with the messages of a board with another. The rules stand in `host-cli/AGREEMENT.md`.

use crate::messages::{Field, Form, MessageKind, Range, Table};
use std::collections::BTreeSet;

/// What a receiver does with a message as the sender makes it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Verdict {
    /// Both sides mean the same.
    Same,
    /// Every value that may be sent is read with its meaning.
    Readable,
    /// Some value, or all of them, would not be read or would be taken for something else.
    Refused,
}

impl Verdict {
    /// As it is shown.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Same => "same",
            Self::Readable => "readable",
            Self::Refused => "refused",
        }
    }
}

/// One message of either version.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Compared {
    /// Message number.
    pub number: u16,
    /// Its name, the new one where it has two.
    pub name: String,
    /// What an old board does with it as a new board sends it; `None` if no new board sends it.
    pub by_old: Option<Verdict>,
    /// What a new board does with it as an old board sends it; `None` if no old board sends it.
    pub by_new: Option<Verdict>,
    /// What differs, and whom it hits.
    pub why: Vec<String>,
}

/// Every message of both versions, in the order of the numbers.
#[must_use]
pub fn compare(old: &Table, new: &Table) -> Vec<Compared> {
    let numbers: BTreeSet<u16> =
        old.messages().iter().chain(new.messages()).map(|message| message.number).collect();
    numbers.into_iter().filter_map(|number| pair(old.get(number), new.get(number))).collect()
}

fn pair(old: Option<&MessageKind>, new: Option<&MessageKind>) -> Option<Compared> {
    let known = new.or(old)?;
    let (number, name) = (known.number, known.name.clone());
    let alone = |by_old, by_new, why: &str| {
        Some(Compared { number, name: name.clone(), by_old, by_new, why: vec![why.to_owned()] })
    };
    let (old, new) = match (old, new) {
        (Some(old), Some(new)) => (old, new),
        (None, _) => return alone(Some(Verdict::Refused), None, "only new boards know it"),
        (_, None) => return alone(None, Some(Verdict::Refused), "only old boards know it"),
    };
    let mut why = Why { by_old: Verdict::Same, by_new: Verdict::Same, lines: Vec::new() };
    if old.name != new.name {
        why.both(
            Verdict::Refused,
            format!("the number is {} in the old one and {} in the new one", old.name, new.name),
        );
    }
    if old.class != new.class {
        why.both(Verdict::Refused, format!("{} became {}", old.class.name(), new.class.name()));
    }
    meaning(old, new, &mut why);
    if old.fields.len() == new.fields.len() {
        for (old, new) in old.fields.iter().zip(&new.fields) {
            field(old, new, &mut why);
        }
    } else {
        let (before, after) = (old.fields.len(), new.fields.len());
        why.both(
            Verdict::Refused,
            format!("{before} fields became {after}: octets are missing or left over"),
        );
    }
    Some(Compared { number, name, by_old: Some(why.by_old), by_new: Some(why.by_new), why: why.lines })
}

/// The verdicts so far and their reasons.
struct Why {
    by_old: Verdict,
    by_new: Verdict,
    lines: Vec<String>,
}

impl Why {
    fn both(&mut self, verdict: Verdict, line: String) {
        self.each(verdict, verdict, line);
    }

    fn each(&mut self, by_old: Verdict, by_new: Verdict, line: String) {
        self.by_old = self.by_old.max(by_old);
        self.by_new = self.by_new.max(by_new);
        self.lines.push(line);
    }
}

/// What matters and does not change the octets.
fn meaning(old: &MessageKind, new: &MessageKind, why: &mut Why) {
    if old.way != new.way {
        why.both(Verdict::Readable, format!("{} became {}", old.way.name(), new.way.name()));
    }
    if old.fresh_ms != new.fresh_ms && old.class == new.class {
        let ms = |message: &MessageKind| message.fresh_ms.unwrap_or(0);
        why.both(Verdict::Readable, format!("fresh for {} ms became {} ms", ms(old), ms(new)));
    }
    if old.at_stop != new.at_stop || (old.fields == new.fields && old.stop != new.stop) {
        why.both(Verdict::Readable, "the meaning of stop, or the value that stops, changed".to_owned());
    }
    if old.moves != new.moves {
        let says = if new.moves { "now" } else { "no longer" };
        why.both(Verdict::Readable, format!("it {says} counts as moving something"));
    }
}

fn field(old: &Field, new: &Field, why: &mut Why) {
    let name = &new.name;
    if old.name != new.name {
        why.both(Verdict::Refused, format!("in the place of {} stands {name}", old.name));
        return;
    }
    if old.ucum != new.ucum {
        let unit = |field: &Field| if field.ucum.is_empty() { "none".to_owned() } else { field.ucum.clone() };
        why.both(Verdict::Refused, format!("{name}: the unit {} became {}", unit(old), unit(new)));
    }
    if old.scale.step() != new.scale.step() && value_of_one(old) != value_of_one(new)
        || value_of(old, 0) != value_of(new, 0)
    {
        why.both(
            Verdict::Refused,
            format!("{name}: scale or offset changed, the same octets mean another value"),
        );
    }
    if old.form != new.form {
        let (by_old, by_new) = (reads(&new.form, &old.form), reads(&old.form, &new.form));
        why.each(by_old, by_new, format!("{name}: {} became {}", told(old), told(new)));
    }
    let (before, after) = (range(old), range(new));
    if before != after && reads(&old.form, &new.form).min(reads(&new.form, &old.form)) != Verdict::Refused {
        let verdict =
            |sender, receiver| if inside(sender, receiver) { Verdict::Readable } else { Verdict::Refused };
        let line = format!("{name}: {} became {}", old.takes(), new.takes());
        why.each(verdict(after, before), verdict(before, after), line);
    }
}

fn told(field: &Field) -> String {
    match field.form {
        Form::Choice(_) | Form::Flags(..) => field.takes(),
        _ => field.form.name(),
    }
}

/// What a whole number stands for, in its lowest terms; numbers with a point of their own stand for themselves.
fn value_of(field: &Field, number: i128) -> (i128, u8) {
    let value = field.scale.value(number);
    let (mut number, mut places) = (value.number, value.places);
    while places > 0 && number % 10 == 0 {
        (number, places) = (number / 10, places - 1);
    }
    (number, places)
}

fn value_of_one(field: &Field) -> (i128, u8) {
    value_of(field, 1)
}

/// The range of a number, or what its form holds.
fn range(field: &Field) -> Option<Range> {
    field.range.or_else(|| field.form.inner().limits().map(|(low, high)| Range::Whole(low, high)))
}

/// Whether a receiver with this range takes all that a sender with that one sends.
fn inside(sender: Option<Range>, receiver: Option<Range>) -> bool {
    match (sender, receiver) {
        (_, None) => true,
        (None, Some(_)) => false,
        (Some(Range::Whole(low, high)), Some(Range::Whole(least, most))) => least <= low && high <= most,
        (Some(Range::Float(low, high)), Some(Range::Float(least, most))) => least <= low && high <= most,
        _ => false,
    }
}

/// Whether a receiver with one form reads all that a sender with another one sends. Ranges are compared apart from it.
fn reads(sender: &Form, receiver: &Form) -> Verdict {
    use Form as F;
    let good = match (sender, receiver) {
        _ if sender == receiver => return Verdict::Same,
        // The variable-length forms are the same octets, whatever their width.
        (F::U16 | F::U32 | F::U64, F::U16 | F::U32 | F::U64) => true,
        (F::I16 | F::I32 | F::I64, F::I16 | F::I32 | F::I64) => true,
        // Words and flags are only ever added at the end.
        (F::Choice(sent), F::Choice(known)) => known.starts_with(sent),
        (F::Flags(a, sent), F::Flags(b, known)) => {
            let common = sent.len().min(known.len());
            a == b && sent[..common] == known[..common]
        }
        (F::Text(sent), F::Text(taken)) | (F::Octets(sent), F::Octets(taken)) => sent <= taken,
        (F::List(sent, a), F::List(taken, b)) => {
            return if a == b { reads(sent, taken) } else { Verdict::Refused };
        }
        (F::Optional(sent), F::Optional(taken)) => return reads(sent, taken),
        _ => false,
    };
    if good { Verdict::Readable } else { Verdict::Refused }
}
