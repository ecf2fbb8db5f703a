//! Tables of messages: what a message number means, told as data.
//!
//! A [`Table`] names the messages of one machine, their class and their fields with unit and scale. It reads and writes
//! payloads in the postcard form (the message number is the enum discriminant), so that a Rust `enum` with serde derives
//! makes the same octets. Tables are read from agreement files ([`crate::agreement`]); the tool has one built in,
//! [`crate::observatory::table`].

mod field;
mod fingerprint;
mod nearest;
mod read;
mod scale;
mod size;
mod value;
mod write;

pub use field::{Field, Form, Range};
pub use nearest::nearest;
pub use read::Values;
pub use scale::{Decimal, Scale};
pub use value::{Value, flag_names};
pub use write::WriteError;

use bellwire::{
    frame::{Class, MessageNumber},
    radio::Hearing,
    setpoint::Stop,
    star::{Carried, Relayed},
};

/// Who sends a message.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Way {
    /// The hub, to a leaf.
    ToLeaf,
    /// A leaf, to the hub.
    ToHub,
    /// Either.
    Either,
}

impl Way {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::ToLeaf, Self::ToHub, Self::Either];

    /// As in an agreement: `hub-to-leaf`, `leaf-to-hub`, `either`.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::ToLeaf => "hub-to-leaf",
            Self::ToHub => "leaf-to-hub",
            Self::Either => "either",
        }
    }
}

/// One kind of message.
#[derive(Debug, Clone, PartialEq)]
pub struct MessageKind {
    /// Message number.
    pub number: u16,
    /// Name, lower case with hyphens.
    pub name: String,
    /// Class.
    pub class: Class,
    /// Who sends it.
    pub way: Way,
    /// The leaves that it is for or from, by name; none: all of them.
    pub boards: Vec<String>,
    /// Fields in the order of the payload.
    pub fields: Vec<Field>,
    /// How long a set-point stays fresh, milliseconds; none for other classes.
    pub fresh_ms: Option<u32>,
    /// The value that stops: a payload, message number included; none for messages that are no set-points.
    pub stop: Option<Vec<u8>>,
    /// What the actuator does when news stops; none for messages that are no set-points.
    pub at_stop: Option<Stop>,
    /// Whether the message makes something move, so that sending it asks for arming first.
    pub moves: bool,
    /// What the message is, for people.
    pub text: String,
}

impl MessageKind {
    /// The payload octets after the message number, read by the fields of this message; `None` if they do not fit exactly.
    #[must_use]
    pub fn values<'a>(&'a self, body: &'a [u8]) -> Option<Values<'a>> {
        Values::new(&self.fields, body)
    }

    /// Who sends it to whom, in words: `desk to dome`.
    #[must_use]
    pub fn between(&self, hub: &str) -> String {
        let leaves = if self.boards.is_empty() { "any leaf".to_owned() } else { self.boards.join(" or ") };
        match self.way {
            Way::ToLeaf => format!("{hub} to {leaves}"),
            Way::ToHub => format!("{leaves} to {hub}"),
            Way::Either => format!("{hub} and {leaves}, both ways"),
        }
    }
}

/// The messages of one machine.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Table {
    name: String,
    version: u32,
    fingerprint: u32,
    messages: Vec<MessageKind>,
    /// Place in `messages` by message number.
    places: Vec<Option<u16>>,
    /// Other agreements that boards may hold.
    others: Vec<Table>,
    /// The hub, and the leaves that have an address.
    hub: String,
    leaves: Vec<(u8, String)>,
}

impl Table {
    /// A table of these messages; later ones win where numbers are the same.
    #[must_use]
    pub fn new(name: &str, version: u32, mut messages: Vec<MessageKind>) -> Self {
        messages.reverse();
        messages.sort_by_key(|message| message.number);
        messages.dedup_by_key(|message| message.number);
        let mut places = vec![None; messages.last().map_or(0, |last| usize::from(last.number) + 1)];
        for (place, message) in messages.iter().enumerate() {
            if let Some(cell) = places.get_mut(usize::from(message.number)) {
                *cell = u16::try_from(place).ok();
            }
        }
        let fingerprint = fingerprint::of(&messages);
        Self { name: name.to_owned(), version, fingerprint, messages, places, ..Self::default() }
    }

    /// A table that knows nothing: every message is shown by its number.
    #[must_use]
    pub fn empty() -> Self {
        Self::default()
    }

    /// The machine that the table is for.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The version that the agreement gives itself; 0 if it has none.
    #[must_use]
    pub const fn version(&self) -> u32 {
        self.version
    }

    /// Name and version, as they are shown: `observatory 2`.
    #[must_use]
    pub fn title(&self) -> String {
        format!("{} {}", self.name, self.version)
    }

    /// The fingerprint over all that matters on the wire, as boards state it in their OPEN; 0 of a table that knows nothing.
    /// `host-cli/AGREEMENT.md` tells how it is made.
    #[must_use]
    pub const fn fingerprint(&self) -> u32 {
        self.fingerprint
    }

    /// The messages that `keeps` takes. The fingerprint stays that of the whole, since that is what boards state.
    #[must_use]
    pub fn part(self, keeps: impl Fn(&MessageKind) -> bool) -> Self {
        let fingerprint = self.fingerprint;
        let kept = self.messages.into_iter().filter(|message| keeps(message)).collect();
        let Self { others, hub, leaves, .. } = self;
        Self { fingerprint, others, hub, leaves, ..Self::new(&self.name, self.version, kept) }
    }

    /// The same table, which also knows those of boards with other agreements.
    #[must_use]
    pub fn with_others(self, others: Vec<Table>) -> Self {
        Self { others, ..self }
    }

    /// The same table, which also knows the hub and the leaves by address.
    #[must_use]
    pub fn with_boards(self, hub: &str, leaves: Vec<(u8, String)>) -> Self {
        Self { hub: hub.to_owned(), leaves, ..self }
    }

    /// The leaves that have an address.
    #[must_use]
    pub fn leaves(&self) -> &[(u8, String)] {
        &self.leaves
    }

    /// The board with this address by its name, else `leaf 7`, `hub`, or `all`.
    #[must_use]
    pub fn who(&self, address: u8) -> String {
        match self.leaves.iter().find(|(known, _)| *known == address) {
            Some((_, name)) => name.clone(),
            None => match address {
                0 if self.hub.is_empty() => "hub".to_owned(),
                0 => self.hub.clone(),
                255 => "all".to_owned(),
                other => format!("leaf {other}"),
            },
        }
    }

    /// The address of a leaf that is named by address or name; `None` if it is neither 1 to 250 nor a board with an address.
    #[must_use]
    pub fn leaf(&self, text: &str) -> Option<u8> {
        let named = self.leaves.iter().find(|(_, name)| name == text).map(|(address, _)| *address);
        named.or_else(|| text.parse().ok().filter(|address| (1..=250).contains(address)))
    }

    /// The table of a board that states this fingerprint: 0, which says nothing, is taken as this table's. `None` if it is not known.
    #[must_use]
    pub fn of(&self, fingerprint: u32) -> Option<&Table> {
        if fingerprint == 0 || fingerprint == self.fingerprint {
            return Some(self);
        }
        self.others.iter().find(|other| other.fingerprint == fingerprint)
    }

    /// A fingerprint as it is shown: `53502311 (observatory 2)`, or `(not known here)`.
    #[must_use]
    pub fn called(&self, fingerprint: u32) -> String {
        match self.of(fingerprint).filter(|_| fingerprint != 0) {
            Some(table) => format!("{fingerprint:08x} ({})", table.title()),
            None => format!("{fingerprint:08x} (not known here)"),
        }
    }

    /// What the fingerprint is made of, one line for each message and field.
    #[must_use]
    pub fn outline(&self) -> String {
        fingerprint::outline(&self.messages)
    }

    /// All messages in the order of their numbers.
    #[must_use]
    pub fn messages(&self) -> &[MessageKind] {
        &self.messages
    }

    /// The message with this number.
    #[must_use]
    pub fn get(&self, number: u16) -> Option<&MessageKind> {
        let place = (*self.places.get(usize::from(number))?)?;
        self.messages.get(usize::from(place))
    }

    /// The message with this name, or with this number given as decimal digits.
    #[must_use]
    pub fn find(&self, name: &str) -> Option<&MessageKind> {
        match name.parse() {
            Ok(number) => self.get(number),
            Err(_) => self.messages.iter().find(|message| message.name == name),
        }
    }

    /// The message of a payload with its values; `None` if the table has no such message, if its class differs or if the
    /// octets do not fit its fields exactly.
    #[must_use]
    pub fn read<'a>(&'a self, class: Class, payload: &'a [u8]) -> Option<(&'a MessageKind, Values<'a>)> {
        let (number, body) = MessageNumber::split(told(payload)).ok()?;
        let message = self.get(number.get()).filter(|message| message.class == class)?;
        Some((message, message.values(body)?))
    }
}

/// The message itself of a payload, which may begin with a hearing (W-66) and what stands before a message that is relayed (W-68).
#[must_use]
pub fn told(payload: &[u8]) -> &[u8] {
    let message = behind_hearing(payload);
    match Relayed::parse(message) {
        Ok(Some(Relayed { carried: Carried::Message(relayed), .. })) => relayed,
        _ => message,
    }
}

/// What follows the hearing that a payload may begin with.
#[must_use]
pub fn behind_hearing(payload: &[u8]) -> &[u8] {
    match Hearing::split(payload) {
        Ok((Some(_), message)) => message,
        _ => payload,
    }
}
