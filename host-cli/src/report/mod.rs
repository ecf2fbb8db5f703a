//! What happened on the wire, as records, and how records are shown.
//!
//! A [`Tracker`] turns chunks of octets into [`Record`]s: it reads the frames of each port and direction and follows each
//! conversation as a passive observer, so that it can tell what was resent, lost, delivered or opened anew. A [`Render`]er
//! turns records into lines of text, JSON or CSV. The JSON and CSV forms are described in `host-cli/RECORDS.md`.

mod aired;
mod batch;
mod confirmed;
mod conversations;
mod csv;
mod hint;
mod json;
mod names;
mod observer;
mod put;
mod record;
mod relayed;
mod render;
mod sheet;
mod slab;
mod split;
mod sum;
mod sum_text;
#[cfg(test)]
mod tests;
mod text;
mod tracker;
mod wide;
mod words;

/// What the decoder works with directly, so as not to make a record of every frame.
pub(crate) mod parts {
    pub(crate) use super::{
        batch::Batch,
        conversations::{Conversations, Verdict, Whence, emit},
        split::{LONGEST, Split, delimiter, splitter},
        words::message_number,
    };
}

pub use aired::Aired;
pub use names::Names;
pub use record::{Event, Frame, Hint, Note, Record, Refusal, Stamp, Text, What};
pub use render::{Format, Left, Look, Render, Start, renderer};
pub use sum::{Numbered, Sum};
pub use text::{harmless, moment_text};
pub use tracker::Tracker;
