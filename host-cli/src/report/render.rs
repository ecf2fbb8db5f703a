//! How records are shown.

use super::Record;

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

/// Turns records into octets to print; holds no state that depends on records before.
pub trait Render: Send + Sync {
    /// What comes before the first record, for instance a header line.
    fn head(&self, out: &mut Vec<u8>) {
        let _ = out;
    }

    /// Appends one record, line end included.
    fn record(&self, record: &Record<'_>, out: &mut Vec<u8>);
}
