//! What an endpoint gives: octets with their time and direction, gaps and remarks.

/// Octets that travelled together, as they were read or written in one piece.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Chunk {
    /// When it was read or written: nanoseconds since the Unix epoch.
    pub at: u64,
    /// Index of the port in [`Source::ports`](super::Source::ports).
    pub port: u16,
    /// Which way it went.
    pub direction: Direction,
    /// The octets.
    pub octets: Vec<u8>,
}

/// Which way octets went, seen from this computer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Direction {
    /// From the board or device.
    In,
    /// Toward the board or device.
    Out,
}

/// A time in which an endpoint could not be heard.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Gap {
    /// Index of the port in [`Source::ports`](super::Source::ports).
    pub port: u16,
    /// Since when nothing could be heard: nanoseconds since the Unix epoch.
    pub from: u64,
    /// When it could be heard again; `None` while it lasts. A gap that ends is told twice: once open, once closed.
    pub to: Option<u64>,
    /// What happened.
    pub why: String,
}

/// A remark about an endpoint that belongs into the record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Note {
    /// When: nanoseconds since the Unix epoch.
    pub at: u64,
    /// Index of the port in [`Source::ports`](super::Source::ports).
    pub port: u16,
    /// The remark.
    pub text: String,
}

/// What a [`Source`](super::Source) gives.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Item {
    /// Octets.
    Chunk(Chunk),
    /// The endpoint went away or came back.
    Gap(Gap),
    /// A remark.
    Note(Note),
    /// Nothing will follow.
    End,
}

impl Item {
    /// When it happened, nanoseconds since the Unix epoch: of a gap that has ended, its end.
    #[must_use]
    pub fn at(&self) -> Option<u64> {
        match self {
            Item::Chunk(chunk) => Some(chunk.at),
            Item::Gap(gap) => Some(gap.to.unwrap_or(gap.from)),
            Item::Note(note) => Some(note.at),
            Item::End => None,
        }
    }

    /// The port it belongs to.
    #[must_use]
    pub fn port(&self) -> Option<u16> {
        match self {
            Item::Chunk(chunk) => Some(chunk.port),
            Item::Gap(gap) => Some(gap.port),
            Item::Note(note) => Some(note.port),
            Item::End => None,
        }
    }

    /// Moves it to another port index, as one who gathers several sources must.
    pub fn set_port(&mut self, to: u16) {
        match self {
            Item::Chunk(chunk) => chunk.port = to,
            Item::Gap(gap) => gap.port = to,
            Item::Note(note) => note.port = to,
            Item::End => {}
        }
    }
}
