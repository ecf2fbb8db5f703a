//! What turns, and how the board tells that it does: a set-point of the agreement, the errand that re-arms, and a report that shows the same field.

use std::{sync::Arc, time::Duration};

use bellwire::frame::Class;

use crate::{
    args::stop_test::StopTestArgs,
    cmd::{
        inject::message::{Message, message},
        named::{for_leaf, named, wrong},
    },
    fail::Fail,
    messages::{MessageKind, Table, Value, Way},
    talk::Received,
};

/// The errand that re-arms, if the board has one of this name.
const REARM: &str = "re-arm";
/// What is sent, unless the command line says another value (°/s), and what the dome says when it stops.
const USUAL: (&str, &str, &str) = ("dome-rate", "0.5", "dome-alarm reason=no-news");

/// What a report says of what was asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Says {
    /// The field has the value that was sent.
    Moves,
    /// It has the one that stops.
    Stands,
}

/// What is sent, and what is looked for.
#[derive(Debug)]
pub(super) struct Course {
    table: Arc<Table>,
    /// The set-point's number and that of the report.
    numbers: [u16; 2],
    /// The field that both have.
    field: String,
    moving: Vec<u8>,
    stop: Vec<u8>,
    rearm: Option<Vec<u8>>,
    alarm: Option<Message>,
    fresh: Duration,
}

impl Course {
    /// Finds the messages in the agreement.
    ///
    /// # Errors
    /// What the agreement or the command line lacks.
    pub(super) fn new(args: &StopTestArgs, table: &Arc<Table>) -> Result<Self, Fail> {
        let kind = named(table, &args.message, Class::SetPoint)?;
        for_leaf(Some(kind), args.to.as_deref(), table)?;
        let stop = kind.stop.clone().ok_or_else(|| {
            wrong(format!("{} has no value that stops", kind.name))
                .next("give it one: `at-stop` in the agreement")
        })?;
        let moving = moving(args, kind)?;
        let (report, field) = report(args, kind, table)?;
        let numbers = [kind.number, report.number];
        let fresh = Duration::from_millis(kind.fresh_ms.unwrap_or(500).into());
        let rearm = rearm(args, kind, table)?;
        let alarm = alarm(args, kind, table)?;
        let course = Self { table: Arc::clone(table), numbers, field, moving, stop, rearm, alarm, fresh };
        if course.shown(Class::SetPoint, &course.moving).is_some_and(|value| course.has(&course.stop, &value))
        {
            return Err(wrong(format!("this value of {} is the one that stops", course.field))
                .next("give another --value"));
        }
        Ok(course)
    }

    /// The set-point that moves something.
    pub(super) fn moving(&self) -> &[u8] {
        &self.moving
    }

    /// The set-point that stops it.
    pub(super) fn stop(&self) -> &[u8] {
        &self.stop
    }

    /// The errand that re-arms; none for a board that needs none.
    pub(super) fn rearm(&self) -> Option<&[u8]> {
        self.rearm.as_deref()
    }

    /// Octets of the set-point on the wire with COBS and a 16-bit FCS, both delimiters included: control, sequence number, FCS, code and delimiters
    /// around the payload.
    pub(super) fn on_the_wire(&self) -> u32 {
        u32::try_from(self.moving.len()).unwrap_or(u32::MAX).saturating_add(7)
    }

    /// How long a value holds without a newer one.
    pub(super) const fn fresh(&self) -> Duration {
        self.fresh
    }

    /// Whether this message says that the board has stopped: its alarm, or a report.
    pub(super) fn says_stopped(&self, received: &Received) -> bool {
        let is_alarm = |alarm: &Message| alarm.class == received.class && alarm.payload == received.payload;
        self.alarm.as_ref().is_some_and(is_alarm) || self.says(received) == Some(Says::Stands)
    }

    /// What this message says, if it is the report that is looked for.
    pub(super) fn says(&self, received: &Received) -> Option<Says> {
        let value = self.shown(received.class, &received.payload)?;
        if self.has(&self.moving, &value) {
            return Some(Says::Moves);
        }
        self.has(&self.stop, &value).then_some(Says::Stands)
    }

    /// The value of the field in one of the two messages.
    fn shown<'a>(&'a self, class: Class, payload: &'a [u8]) -> Option<Value<'a>> {
        let (kind, mut values) = self.table.read(class, payload)?;
        if !self.numbers.contains(&kind.number) {
            return None;
        }
        values.find_map(|(field, value)| (field.name == self.field).then_some(value))
    }

    fn has(&self, set_point: &[u8], value: &Value<'_>) -> bool {
        self.shown(Class::SetPoint, set_point).is_some_and(|own| same(&own, value))
    }
}

/// Whether both are the same number, though it may travel with other steps; or the same word, flag and so on.
fn same(one: &Value<'_>, other: &Value<'_>) -> bool {
    match (one, other) {
        (Value::Number(one), Value::Number(other)) => {
            let places = one.places.max(other.places);
            one.at(places).is_some() && one.at(places) == other.at(places)
        }
        _ => one == other,
    }
}

/// The set-point with the values of the command line.
fn moving(args: &StopTestArgs, kind: &MessageKind) -> Result<Vec<u8>, Fail> {
    let takes: Vec<_> =
        kind.fields.iter().map(|field| format!("{}: {}", field.name, field.takes())).collect();
    let usual = [USUAL.1.to_owned()];
    let words = match args.value.as_slice() {
        [] if kind.name == USUAL.0 => &usual,
        [] => {
            return Err(wrong(format!("which value of {} shall it have?", kind.name)).next(format!(
                "say --value VALUE, or --value FIELD=VALUE for each field ({})",
                takes.join("; ")
            )));
        }
        words => words,
    };
    let mut values = Vec::new();
    for word in words {
        match (word.split_once('='), kind.fields.as_slice()) {
            (Some(both), _) => values.push(both),
            (None, [field]) => values.push((field.name.as_str(), word.as_str())),
            (None, _) => {
                return Err(wrong(format!("--value {word}: of which field?")).next("say --value FIELD=VALUE"));
            }
        }
    }
    kind.write(&values).map_err(|error| wrong(format!("--value: {error}")).next(takes.join("; ")))
}

/// Whether messages of the one kind come from, or go to, a leaf that those of the other do.
fn share_a_board(one: &MessageKind, other: &MessageKind) -> bool {
    one.boards.is_empty()
        || other.boards.is_empty()
        || one.boards.iter().any(|board| other.boards.contains(board))
}

/// The report that shows what is turned, and the field that it shares with the set-point.
fn report<'a>(
    args: &StopTestArgs,
    kind: &MessageKind,
    table: &'a Table,
) -> Result<(&'a MessageKind, String), Fail> {
    let shared = |report: &MessageKind| {
        let field =
            kind.fields.iter().find(|field| report.fields.iter().any(|shown| shown.name == field.name))?;
        Some(field.name.clone())
    };
    let lacks = |what: String| {
        let names: Vec<_> = kind.fields.iter().map(|field| format!("'{}'", field.name)).collect();
        wrong(what)
            .at(format!("{} has the fields {}", kind.name, names.join(", ")))
            .next("a board must report what it does: give its report a field of that name")
    };
    if let Some(name) = &args.report {
        let report = named(table, name, Class::Report)?;
        let field = shared(report).ok_or_else(|| lacks(format!("{name} shows no field of {}", kind.name)))?;
        return Ok((report, field));
    }
    let from_it = |report: &&MessageKind| {
        report.class == Class::Report && report.way != Way::ToLeaf && share_a_board(kind, report)
    };
    let mut found =
        table.messages().iter().filter(from_it).filter_map(|report| Some((report, shared(report)?)));
    found.next().ok_or_else(|| lacks(format!("no report of its board shows whether {} is obeyed", kind.name)))
}

/// The errand that re-arms: the one that was asked for, or that of the usual name, if the board has it.
fn rearm(args: &StopTestArgs, kind: &MessageKind, table: &Table) -> Result<Option<Vec<u8>>, Fail> {
    let errand = match &args.rearm {
        Some(name) => named(table, name, Class::Errand)?,
        None => match named(table, REARM, Class::Errand).ok().filter(|errand| share_a_board(kind, errand)) {
            Some(errand) => errand,
            None => return Ok(None),
        },
    };
    let payload = errand
        .write(&[])
        .map_err(|error| wrong(format!("{} needs no values to re-arm: {error}", errand.name)))?;
    Ok(Some(payload))
}

/// The message that says that the board has stopped.
fn alarm(args: &StopTestArgs, kind: &MessageKind, table: &Table) -> Result<Option<Message>, Fail> {
    let read = |text: &str| {
        let words: Vec<_> = text.split_whitespace().map(str::to_owned).collect();
        message(&words, None, table)
    };
    match &args.alarm {
        Some(text) => read(text).map(Some),
        None if kind.name == USUAL.0 => Ok(read(USUAL.2).ok()),
        None => Ok(None),
    }
}
