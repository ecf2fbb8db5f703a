//! How records are shown.

use super::{Record, csv::Csv, json::Json, text::Lines, text::Names};
use crate::messages::Table;
use std::sync::{Arc, OnceLock};

/// The forms that records can be shown in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Format {
    /// Lines for people, at most 80 columns.
    #[default]
    Text,
    /// One JSON object a line.
    Json,
    /// Comma-separated values with a header line.
    Csv,
}

/// How text lines look.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Look {
    /// Show octets in hex beside the words.
    pub hex: bool,
    /// Colour, for terminals only; nothing is told by colour alone.
    pub colour: bool,
}

/// The time that seconds are counted from: that of the first record.
#[derive(Debug, Default)]
pub struct Start(OnceLock<u64>);

impl Start {
    /// Nanoseconds since the Unix epoch; `at` becomes the start if there is none yet.
    #[must_use]
    pub fn get(&self, at: u64) -> u64 {
        *self.0.get_or_init(|| at)
    }
}

/// Turns records into octets to print; holds no state that depends on records before, but for the [`Start`].
pub trait Render: Send + Sync {
    /// What comes before the first record, for instance a header line.
    fn head(&self, out: &mut Vec<u8>) {
        let _ = out;
    }

    /// Appends one record, line end included.
    fn record(&self, record: &Record<'_>, out: &mut Vec<u8>);
}

/// A renderer for a form.
#[must_use]
pub fn renderer(
    format: Format,
    look: Look,
    table: Arc<Table>,
    names: Names,
    start: Arc<Start>,
) -> Box<dyn Render> {
    match format {
        Format::Text => Box::new(Lines { table, start, look, names }),
        Format::Json => Box::new(Json::new(table, start)),
        Format::Csv => Box::new(Csv::new(table, start)),
    }
}
