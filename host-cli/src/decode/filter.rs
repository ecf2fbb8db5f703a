//! Which records are shown.

use crate::report::Record;
use bellwire::frame::{Class, Kind};
use std::ops::RangeInclusive;

/// Which records are shown; an empty list or `None` lets all pass. All conditions must hold.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Filter {
    /// Values of the field `record`.
    pub records: Vec<String>,
    /// Kinds of frames.
    pub kinds: Vec<Kind>,
    /// Classes of messages.
    pub classes: Vec<Class>,
    /// Addresses, as *to* or *from*.
    pub addresses: Vec<u8>,
    /// Sequence numbers.
    pub numbers: Vec<RangeInclusive<u8>>,
    /// Message numbers.
    pub messages: Vec<u16>,
    /// Index of the port.
    pub ports: Vec<u16>,
    /// From this time on, ns since the first record.
    pub from: Option<u64>,
    /// Up to this time, ns since the first record.
    pub to: Option<u64>,
}

impl Filter {
    /// Whether everything passes.
    #[must_use]
    pub fn is_open(&self) -> bool {
        *self == Self::default()
    }

    /// Whether only frames can pass.
    fn wants_frames(&self) -> bool {
        !(self.kinds.is_empty()
            && self.classes.is_empty()
            && self.addresses.is_empty()
            && self.numbers.is_empty()
            && self.messages.is_empty())
    }

    /// Whether a record passes; `start` is the time of the first record.
    #[must_use]
    pub fn passes(&self, record: &Record<'_>, start: Option<u64>) -> bool {
        if !self.records.is_empty() && !self.records.iter().any(|name| name == record.name()) {
            return false;
        }
        if !self.ports.is_empty() && !record.stamp().is_some_and(|stamp| self.ports.contains(&stamp.port)) {
            return false;
        }
        if self.from.is_some() || self.to.is_some() {
            let Some(since) = record.at().zip(start).map(|(at, start)| at.saturating_sub(start)) else {
                return false;
            };
            if self.from.is_some_and(|from| since < from) || self.to.is_some_and(|to| since > to) {
                return false;
            }
        }
        if !self.wants_frames() {
            return true;
        }
        let Record::Frame(frame) = record else { return false };
        let header = &frame.header;
        (self.kinds.is_empty() || self.kinds.contains(&header.kind))
            && (self.classes.is_empty()
                || header.kind.class().is_some_and(|class| self.classes.contains(&class)))
            && (self.addresses.is_empty()
                || header.addresses.is_some_and(|pair| {
                    self.addresses.contains(&pair.to) || self.addresses.contains(&pair.from)
                }))
            && (self.numbers.is_empty()
                || header.kind.is_numbered()
                    && self.numbers.iter().any(|range| range.contains(&header.number)))
            && (self.messages.is_empty()
                || header.kind.class().is_some()
                    && crate::report::parts::message_number(&frame.payload)
                        .is_some_and(|number| self.messages.contains(&number)))
    }
}
