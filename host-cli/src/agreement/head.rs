//! The file as a whole: its head, links, boards and messages.

use super::{
    Agreement, Board, Link,
    fault::Faults,
    keys,
    message::{self, Boards},
    name::{Seen, name},
    section::{Section, shown},
};
use crate::messages::{MessageKind, Table, nearest};

/// Payloads that a board can state in its OPEN (W-20).
const PAYLOADS: (u32, u32) = (16, 1024);

/// Addresses of leaves (W-15).
const ADDRESSES: (u32, u32) = (1, 250);

/// Reads all sections. What is missing or wrong is replaced by something harmless: with a fault nothing of it is used.
pub(super) fn read(file: &Section<'_>, source: &str, faults: &mut Faults) -> Agreement {
    let title = named(file, "agreement", "the machine, for instance agreement = \"observatory\"", faults);
    file.missing("version", "version = 1", faults);
    let version = file.whole("version", (1, u32::MAX), faults).map_or(1, |(version, _)| version);
    let hub = named(file, "hub", "the board in the middle, for instance hub = \"desk\"", faults);
    let text = file.prose("text", faults);
    let links = links(file, source, faults);
    let boards = boards(file, &hub, &links, source, faults);
    let messages = messages(file, &Boards { hub: &hub, boards: &boards, links: &links }, source, faults);
    let leaves = boards.iter().filter_map(|board| Some((board.address?, board.name.clone()))).collect();
    let table = Table::new(&title, version, messages).with_boards(&hub, leaves);
    Agreement { hub, text, links, boards, table }
}

/// A name under `key` that must be there.
fn named(section: &Section<'_>, key: &str, example: &str, faults: &mut Faults) -> String {
    section.need(key, example, faults).map_or_else(String::new, |(text, at)| name(key, text, &at, faults))
}

fn links(file: &Section<'_>, source: &str, faults: &mut Faults) -> Vec<Link> {
    let mut seen = Seen::new("link");
    let mut links = Vec::new();
    for (table, at) in file.sections("link", faults) {
        let section = Section::new("a link".into(), at, table, &keys::LINK, faults);
        let name = named(&section, "name", "name = \"wire\"", faults);
        seen.add(name.clone(), &section.place("name"), source, faults);
        section.missing("payload", "the largest payload in octets, for instance payload = 48", faults);
        let payload = section.whole("payload", PAYLOADS, faults).map_or(PAYLOADS.1, |(octets, _)| octets);
        let text = section.prose("text", faults);
        links.push(Link { name, payload: u16::try_from(payload).unwrap_or(u16::MAX), text });
    }
    links
}

fn boards(file: &Section<'_>, hub: &str, links: &[Link], source: &str, faults: &mut Faults) -> Vec<Board> {
    let mut seen = Seen::new("board");
    seen.add(hub.to_owned(), &file.place("hub"), source, faults);
    let mut boards = Vec::new();
    for (table, at) in file.sections("board", faults) {
        let section = Section::new("a board".into(), at, table, &keys::BOARD, faults);
        let name = named(&section, "name", "name = \"dome\"", faults);
        seen.add(name.clone(), &section.place("name"), source, faults);
        let mut link = String::new();
        if let Some((text, at)) = section.string("link", "link = \"wire\"", faults) {
            let names = links.iter().map(|link| link.name.as_str());
            match links.iter().find(|known| known.name == text) {
                Some(known) => link.clone_from(&known.name),
                None => faults.add(&at, format!("there is no link '{}'", shown(text)), choose(text, names)),
            }
        }
        let address = section.whole("address", ADDRESSES, faults).map(|(address, at)| {
            let address = u8::try_from(address).unwrap_or(u8::MAX);
            if let Some(other) = boards.iter().find(|other: &&Board| other.address == Some(address)) {
                let what = format!("address {address} is that of {} already", shown(&other.name));
                faults.add(&at, what, "give every board an address of its own");
            }
            address
        });
        let text = section.prose("text", faults);
        boards.push(Board { name, link, address, text });
    }
    boards
}

/// What to write instead of a name that is not there.
pub(super) fn choose<'a>(wrong: &str, names: impl Iterator<Item = &'a str> + Clone) -> String {
    match nearest(wrong, names.clone()) {
        Some(near) => format!("write \"{near}\""),
        None => match names.map(shown).take(12).collect::<Vec<_>>().join(", ") {
            none if none.is_empty() => "there are none".to_owned(),
            names => format!("there are {names}"),
        },
    }
}

fn messages(file: &Section<'_>, boards: &Boards<'_>, source: &str, faults: &mut Faults) -> Vec<MessageKind> {
    file.missing("message", "[[message]], with its keys below", faults);
    let (mut names, mut numbers) = (Seen::new("name"), Seen::new("message number"));
    let mut messages = Vec::new();
    for (table, at) in file.sections("message", faults) {
        let (message, section) = message::read(table, at, boards, source, faults);
        if !message.name.is_empty() {
            names.add(message.name.clone(), &section.place("name"), source, faults);
        }
        if section.has("number") {
            numbers.add(message.number, &section.place("number"), source, faults);
        }
        messages.push(message);
    }
    messages
}
