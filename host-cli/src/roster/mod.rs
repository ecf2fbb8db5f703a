//! Who is on a medium, as far as a listener hears: one row for each leaf.

mod row;

use std::collections::BTreeMap;

use bellwire::frame::Kind;

pub use row::{How, Row};

use crate::{
    beyond::{Beyond, Value},
    endpoint::Direction,
    report::{Aired, Frame, Record, Refusal, What},
};

/// Where a leaf is: index of the port, and its address, `None` where the port has one board at its other end.
pub type Place = (u16, Option<u8>);

/// The leaves that were heard or asked.
#[derive(Debug, Clone, Default)]
pub struct Roster {
    rows: BTreeMap<Place, Row>,
    now: Option<u64>,
}

impl Roster {
    /// Nobody was heard yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// A leaf is asked: it is listed even if it never answers.
    pub fn asks(&mut self, place: Place) {
        self.rows.entry(place).or_default().is_asked = true;
    }

    /// The rows, by port and address.
    pub fn rows(&self) -> impl Iterator<Item = (Place, &Row)> {
        self.rows.iter().map(|(place, row)| (*place, row))
    }

    /// The time of the last thing taken in, ns since the Unix epoch.
    #[must_use]
    pub const fn now(&self) -> Option<u64> {
        self.now
    }

    /// Time has come to `now`, ns since the Unix epoch.
    pub fn until(&mut self, now: u64) {
        self.now = self.now.max(Some(now));
        self.rows.values_mut().for_each(|row| row.until(now));
    }

    /// Takes what a tracker tells.
    pub fn record(&mut self, record: &Record<'_>) {
        if let Some(at) = record.at() {
            self.now = self.now.max(Some(at));
        }
        match record {
            Record::Frame(frame) => self.frame(frame),
            Record::Reject(refusal) => {
                if let Some(beyond) = refusal.beyond() {
                    self.beyond(refusal, &beyond);
                }
            }
            Record::Event(event) => {
                let place = (event.stamp.port, event.leaf);
                if let (What::Opened { session, identity_in, .. }, true) =
                    (&event.what, event.leaf != Some(255))
                {
                    self.rows.entry(place).or_default().opened(*session, *identity_in);
                }
            }
            _ => {}
        }
    }

    fn frame(&mut self, frame: &Frame<'_>) {
        let stamp = &frame.stamp;
        let (leaf, from_leaf) = match frame.header.addresses {
            Some(pair) if pair.from != 0 => (Some(pair.from), true),
            Some(pair) if pair.to != 255 => (Some(pair.to), false),
            Some(_) => return,
            None => (None, stamp.direction == Direction::In),
        };
        let row = self.rows.entry((stamp.port, leaf)).or_default();
        if from_leaf {
            row.heard(stamp.at, strength(frame.aired));
            row.frame(frame);
        } else {
            row.addressed(stamp.at, frame.header.kind == Kind::Extended);
        }
    }

    /// JOIN, WELCOME and whatever else a leaf says beyond two boards.
    fn beyond(&mut self, refusal: &Refusal<'_>, beyond: &Beyond<'_>) {
        let number = |name: &str| match &beyond.fields.iter().find(|field| field.name == name)?.value {
            Value::Number(number) => u8::try_from(*number).ok(),
            Value::Words(_) => None,
        };
        let identity = beyond
            .fields
            .iter()
            .find(|field| field.name == "identity")
            .and_then(|field| u64::from_str_radix(&field.value.to_string(), 16).ok());
        let port = refusal.stamp.port;
        let leaf = match (beyond.addresses, beyond.code) {
            (Some(pair), _) => (pair.from != 0).then_some(pair.from),
            (None, 0x13) => number("address").filter(|address| *address != 0),
            // The hub tells who has which address now.
            (None, 0x14) => {
                let taken = beyond.fields.iter().any(|field| field.value == Value::Words("taken".into()));
                if let Some(address) = number("address").filter(|address| taken && *address != 0) {
                    self.rows.entry((port, Some(address))).or_default().is(identity.unwrap_or(0));
                }
                None
            }
            _ => None,
        };
        if let Some(leaf) = leaf {
            let row = self.rows.entry((port, Some(leaf))).or_default();
            row.heard(refusal.stamp.at, strength(refusal.aired));
            row.is(identity.unwrap_or(0));
        }
    }
}

const fn strength(aired: Option<Aired>) -> Option<i16> {
    match aired {
        Some(Aired::Heard { strength, .. }) => strength,
        _ => None,
    }
}

#[cfg(test)]
mod tests;
