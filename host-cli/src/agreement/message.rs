//! One `[[message]]`.

use super::{
    Board, Link,
    fault::{Faults, Span},
    field,
    head::choose,
    keys,
    name::{Seen, name},
    section::{Section, shown},
};
use crate::{
    args::units,
    messages::{MessageKind, Way},
};
use bellwire::{
    frame::{Class, MAX_MESSAGE_NUMBER},
    setpoint::Stop,
};
use std::time::Duration;
use toml::de::DeTable;

/// Most fields of a message.
const FIELDS: usize = 32;
/// Most octets of a payload (W-20).
const LARGEST: usize = 1024;
/// The longest time that a set-point may stay fresh.
const FRESHEST: Duration = Duration::from_secs(600);

/// Who exchanges messages.
pub(super) struct Boards<'a> {
    pub(super) hub: &'a str,
    pub(super) boards: &'a [Board],
    pub(super) links: &'a [Link],
}

/// Reads one message; gives its section for the places of its keys, too.
pub(super) fn read<'d>(
    table: &'d DeTable<'d>,
    at: Span,
    boards: &Boards<'_>,
    source: &str,
    faults: &mut Faults,
) -> (MessageKind, Section<'d>) {
    let mut section = Section::new("a message".into(), at, table, &keys::MESSAGE, faults);
    let name = section
        .need("name", "name = \"dome-rate\"", faults)
        .map_or_else(String::new, |(text, at)| named(text, &at, faults));
    if !name.is_empty() {
        section.what = format!("message '{name}'");
    }
    section.missing("number", "number = 0, a number that no other message has", faults);
    let number = number(&section, faults);
    let class = word(&section, "class", Class::ALL.map(|class| (class.name(), class)), faults);
    let way = word(&section, "way", Way::ALL.map(|way| (way.name(), way)), faults);
    let boards_named = named_boards(&section, boards, faults);
    let fields = fields(&section, class == Some(Class::SetPoint), source, faults);
    let mut message = MessageKind {
        number: u16::try_from(number).unwrap_or(u16::MAX),
        name,
        class: class.unwrap_or(Class::Notice),
        way: way.unwrap_or(Way::Either),
        boards: boards_named,
        fields: Vec::new(),
        fresh_ms: None,
        stop: None,
        at_stop: None,
        moves: false,
        text: section.prose("text", faults),
    };
    motion(&section, class, way, &mut message, faults);
    let stops: Vec<_> = fields.iter().map(|(_, stop)| stop.clone()).collect();
    message.fields = fields.into_iter().map(|(field, _)| field).collect();
    if class == Some(Class::SetPoint) && faults.is_empty() {
        message.stop = stop_payload(&message, &stops, &section, faults);
    }
    fits(&section, &message, boards, faults);
    (message, section)
}

/// A message number that the wire text does not reserve.
fn number(section: &Section<'_>, faults: &mut Faults) -> u32 {
    let Some((number, at)) = section.whole("number", (0, MAX_MESSAGE_NUMBER.into()), faults) else {
        return 0;
    };
    let reserved = match number {
        16_382 => "what travels from leaf to leaf by way of the hub (W-68)",
        16_383 => "what a board tells of what it hears (W-66)",
        _ => return number,
    };
    faults.add(&at, format!("number {number} is reserved for {reserved}"), "take one from 0 to 16381");
    number
}

fn named(text: &str, at: &Span, faults: &mut Faults) -> String {
    if Class::ALL.iter().any(|class| class.name() == text) {
        faults.add(at, format!("'{text}' is a class and cannot be a name"), "say what it is about");
        return String::new();
    }
    name("message", text, at, faults)
}

/// One of a few words under `key`, which must be there.
fn word<T: Copy, const N: usize>(
    section: &Section<'_>,
    key: &str,
    words: [(&str, T); N],
    faults: &mut Faults,
) -> Option<T> {
    let names = words.map(|(name, _)| name);
    let (text, at) = section.need(key, &format!("{key} = one of {}", names.join(", ")), faults)?;
    let found = words.iter().find(|(name, _)| *name == text).map(|(_, value)| *value);
    if found.is_none() {
        faults.add(&at, format!("'{}' is no {key}", shown(text)), choose(text, names.iter().copied()));
    }
    found
}

fn named_boards(section: &Section<'_>, boards: &Boards<'_>, faults: &mut Faults) -> Vec<String> {
    let Some((named, _)) = section.strings("board", "board = \"dome\", or a list of boards", faults) else {
        return Vec::new();
    };
    let mut found: Vec<String> = Vec::new();
    for (text, at) in named {
        let names = boards.boards.iter().map(|board| board.name.as_str());
        if text == boards.hub {
            faults.add(&at, format!("'{text}' is the hub"), "board names the leaves; way says who sends");
        } else if !names.clone().any(|name| name == text) {
            faults.add(&at, format!("there is no board '{}'", shown(text)), choose(text, names));
        } else if found.iter().any(|before| before == text) {
            faults.add(&at, format!("the board '{text}' is named twice"), "name it once");
        } else {
            found.push(text.to_owned());
        }
    }
    found
}

fn fields(
    section: &Section<'_>,
    is_set_point: bool,
    source: &str,
    faults: &mut Faults,
) -> Vec<(crate::messages::Field, Option<String>)> {
    let tables = section.sections("field", faults);
    if tables.len() > FIELDS {
        faults.add(
            &section.place("field"),
            format!("{} has {} fields", section.what, tables.len()),
            format!("a message has at most {FIELDS}; use count for values of one kind"),
        );
        return Vec::new();
    }
    let mut seen = Seen::new("field name");
    let mut fields = Vec::new();
    for (table, at) in tables {
        let place = at.clone();
        let (field, stop, name_at) = field::read(&section.what, table, at, is_set_point, source, faults);
        if !field.name.is_empty() {
            seen.add(field.name.clone(), &name_at.unwrap_or(place), source, faults);
        }
        fields.push((field, stop));
    }
    fields
}

/// How long a set-point stays fresh, what its actuator does at a stop, and whether a message moves something.
fn motion(
    section: &Section<'_>,
    class: Option<Class>,
    way: Option<Way>,
    message: &mut MessageKind,
    faults: &mut Faults,
) {
    let Some(class) = class else { return };
    if class == Class::SetPoint {
        section.missing("fresh", "how long a value holds without a newer one: fresh = \"500ms\"", faults);
        message.fresh_ms = fresh(section, faults);
        message.at_stop = word(section, "stop", Stop::ALL.map(|stop| (stop.name(), stop)), faults);
        message.moves = true;
    } else {
        for key in ["fresh", "stop"] {
            if section.has(key) {
                let article = if class == Class::Errand { "an" } else { "a" };
                let what = format!("{} is {article} {} and has no {key}", section.what, class.name());
                faults.add(&section.place(key), what, "only a set-point has it; leave it out");
            }
        }
    }
    let moves = section.boolean("moves", faults);
    match (class, &moves) {
        (Class::SetPoint, Some((false, at))) => {
            faults.add(
                at,
                "a set-point moves something",
                "make it a notice if nothing moves, or leave moves out",
            );
        }
        (Class::Report | Class::Notice, Some((true, at))) => {
            let what = format!("a {} tells of something and moves nothing", class.name());
            faults.add(at, what, "make it an errand, or leave moves out");
        }
        (Class::Errand, Some((moves, _))) => message.moves = *moves,
        // Who gives an order must know whether something moves; what a leaf tells the hub moves nothing.
        (Class::Errand, None) if way != Some(Way::ToHub) => {
            let example = "moves = true if it may move something (then it needs arming), else moves = false";
            section.missing("moves", example, faults);
        }
        _ => {}
    }
}

fn fresh(section: &Section<'_>, faults: &mut Faults) -> Option<u32> {
    let (text, at) = section.string("fresh", "a time with its unit, as text: fresh = \"500ms\"", faults)?;
    match units::duration(text) {
        Ok(time)
            if time >= Duration::from_millis(1)
                && time <= FRESHEST
                && time.subsec_nanos() % 1_000_000 == 0 =>
        {
            u32::try_from(time.as_millis()).ok()
        }
        Ok(_) => {
            faults.add(
                &at,
                format!("fresh cannot be '{}'", shown(text)),
                "write whole milliseconds, 1ms to 10min",
            );
            None
        }
        Err(what) => {
            let is_short = what.len() <= 80 && !what.chars().any(char::is_control);
            let instead =
                if is_short { what } else { "write a time with its unit, for instance 500ms".into() };
            faults.add(&at, format!("fresh cannot be '{}'", shown(text)), instead);
            None
        }
    }
}

/// The set-point that stops: each field's `at-stop`, or what is nearest to nothing: 0, false, the first word.
fn stop_payload(
    message: &MessageKind,
    stops: &[Option<String>],
    section: &Section<'_>,
    faults: &mut Faults,
) -> Option<Vec<u8>> {
    let values: Vec<_> = message
        .fields
        .iter()
        .zip(stops)
        .map(|(field, stop)| (field.name.as_str(), stop.clone().unwrap_or_else(|| field::nothing(field))))
        .collect();
    let values: Vec<_> = values.iter().map(|(name, value)| (*name, value.as_str())).collect();
    match message.write(&values) {
        Ok(payload) => Some(payload),
        Err(error) => {
            let what = format!("{} has no value that stops: {error}", section.what);
            faults.add(&section.at, what, "say it with at-stop in that field");
            None
        }
    }
}

/// A payload that is larger than a link on which it travels takes is a fault.
fn fits(section: &Section<'_>, message: &MessageKind, boards: &Boards<'_>, faults: &mut Faults) {
    let most = message.most_octets();
    let travels = |link: &&Link| {
        let on = |board: &Board| board.link == link.name;
        let mut leaves = boards.boards.iter().filter(|board| on(board));
        message.boards.is_empty() || leaves.any(|board| message.boards.contains(&board.name))
    };
    for link in boards.links.iter().filter(travels) {
        if most > usize::from(link.payload) {
            faults.add(
                &section.at,
                format!(
                    "{} takes up to {most} octets, and the link '{}' carries {}",
                    section.what, link.name, link.payload
                ),
                "make its fields smaller, or name with board the leaves that it is for",
            );
        }
    }
    if most > LARGEST {
        let what =
            format!("{} takes up to {most} octets, and no frame carries more than {LARGEST}", section.what);
        faults.add(&section.at, what, "make its fields smaller");
    }
}
