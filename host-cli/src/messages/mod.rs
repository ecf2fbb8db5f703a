//! Tables of messages: what a message number means, told as data.
//!
//! A [`Table`] names the messages of one machine, their class and their fields with unit and scale. It reads and writes
//! payloads in the postcard form (the message number is the enum discriminant), so that a Rust `enum` with serde derives
//! makes the same octets. The tool has one table built in, [`crate::observatory::table`].

mod field;
mod read;
mod write;

pub use field::{Field, Form, Value};
pub use read::Values;
pub use write::WriteError;

use bellwire::frame::{Class, MessageNumber};

/// One kind of message.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MessageKind {
    /// Message number.
    pub number: u16,
    /// Name, lower case with hyphens.
    pub name: String,
    /// Class.
    pub class: Class,
    /// Fields in the order of the payload.
    pub fields: Vec<Field>,
    /// How long a set-point stays fresh, milliseconds; none for other classes.
    pub fresh_ms: Option<u32>,
    /// What stop means: a payload (message number included) that stops the mover; none for messages that move nothing.
    pub stop: Option<Vec<u8>>,
    /// Whether the message makes something move, so that sending it asks for arming first.
    pub moves: bool,
}

impl MessageKind {
    /// The payload octets after the message number, read by the fields of this message; `None` if they do not fit exactly.
    #[must_use]
    pub fn values<'a>(&'a self, body: &'a [u8]) -> Option<Values<'a>> {
        Values::new(&self.fields, body)
    }
}

/// The messages of one machine.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Table {
    name: String,
    messages: Vec<MessageKind>,
    /// Place in `messages` by message number.
    places: Vec<Option<u16>>,
}

impl Table {
    /// A table of these messages; later ones win where numbers are the same.
    #[must_use]
    pub fn new(name: &str, mut messages: Vec<MessageKind>) -> Self {
        messages.reverse();
        messages.sort_by_key(|message| message.number);
        messages.dedup_by_key(|message| message.number);
        let mut places = vec![None; messages.last().map_or(0, |last| usize::from(last.number) + 1)];
        for (place, message) in messages.iter().enumerate() {
            if let Some(cell) = places.get_mut(usize::from(message.number)) {
                *cell = u16::try_from(place).ok();
            }
        }
        Self { name: name.to_owned(), messages, places }
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
        let (number, body) = MessageNumber::split(payload).ok()?;
        let message = self.get(number.get()).filter(|message| message.class == class)?;
        Some((message, message.values(body)?))
    }
}
