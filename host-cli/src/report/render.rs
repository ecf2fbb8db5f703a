//! How records are shown.

use super::{Record, csv::Csv, json::Json, names::Names, sheet::Sheet, text::Lines};
use crate::messages::Table;
use std::{
    io::IsTerminal,
    sync::{Arc, OnceLock},
};

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
    /// One message alone, by its number: comma-separated values with a column for each field.
    Sheet(u16),
}

/// How text lines look.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Look {
    /// Show octets in hex beside the words.
    pub hex: bool,
    /// Colour, for terminals only; nothing is told by colour alone.
    pub colour: bool,
    /// What the heading calls the left column.
    pub left: Left,
}

/// What stands at the left of each line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Left {
    /// Seconds since the first record.
    #[default]
    Seconds,
    /// Octets before it, for input without times.
    Octets,
}

impl Look {
    /// Colour if standard output is a terminal that takes it: `NO_COLOR` is not set (or empty) and `TERM` is not `dumb`.
    #[must_use]
    pub fn for_stdout() -> Self {
        let set = |name| std::env::var_os(name).filter(|value| !value.is_empty());
        let wanted = set("NO_COLOR").is_none() && set("TERM").is_some_and(|term| term != "dumb");
        Self { colour: wanted && !cfg!(test) && std::io::stdout().is_terminal(), ..Self::default() }
    }
}

/// The time that seconds are counted from: that of the first octets, gap or remark. Say it with [`Start::get`] as they come; else the
/// first record shown sets it.
#[derive(Debug, Default)]
pub struct Start(OnceLock<u64>);

impl Start {
    /// Nanoseconds since the Unix epoch; `at` becomes the start if there is none yet.
    #[must_use]
    pub fn get(&self, at: u64) -> u64 {
        *self.0.get_or_init(|| at)
    }

    /// The start, if there is one.
    #[must_use]
    pub fn known(&self) -> Option<u64> {
        self.0.get().copied()
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
        Format::Sheet(number) => Box::new(Sheet::new(table, start, number)),
    }
}
