//! What follows from an agreement: the same messages in Rust, C and Python, octet for octet, and pages for people.
//!
//! What is written depends on the agreement alone, so that a file can be kept and compared. All languages refuse the same octets and the
//! same values, and name the field: octets that end too early, values that a type does not have, values out of range, text that is too
//! long, octets left over. The structure of a message is read first, then its ranges are checked.

pub mod c;
mod check;
pub mod names;
mod needs;
pub mod page;
mod prose;
pub mod python;
pub mod rust;
pub mod save;
mod sections;

use crate::agreement::Agreement;

/// What the files have beyond the messages.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Hash)]
pub struct Extras {
    /// In Rust every type derives `defmt::Format` where the crate's feature `defmt` is on.
    pub defmt: bool,
}

/// One language or page.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, clap::ValueEnum)]
pub enum Kind {
    /// A module for `no_std`, with serde and postcard.
    Rust,
    /// A header and a source, C99.
    C,
    /// One file, CPython 3.9 and small interpreters.
    Python,
    /// The agreement to pin above the bench, in Markdown and in HTML.
    Page,
    /// A sheet of HTML with a label to cut out for each board.
    Labels,
}

impl Kind {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::Rust, Self::C, Self::Python, Self::Page, Self::Labels];

    /// Its files: name and text.
    #[must_use]
    pub fn files(self, agreement: &Agreement, extras: Extras) -> Vec<(String, String)> {
        let name = agreement.table.name();
        let module = names::snake(name);
        match self {
            Self::Rust => vec![(format!("{module}.rs"), rust::module(agreement, extras))],
            Self::C => {
                vec![(format!("{name}.h"), c::header(agreement)), (format!("{name}.c"), c::source(agreement))]
            }
            Self::Python => vec![(format!("{module}.py"), python::file(agreement))],
            Self::Page => vec![
                (format!("{name}-page.md"), page::markdown(agreement)),
                (format!("{name}-page.html"), page::html(agreement)),
            ],
            Self::Labels => vec![(format!("{name}-labels.html"), page::labels(agreement))],
        }
    }
}
