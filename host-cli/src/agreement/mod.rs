//! Agreement files: the messages of one machine, agreed upon once for every board and language.
//!
//! The format is our own, on TOML; `host-cli/AGREEMENT.md` describes it, `host-cli/agreement.schema.json` lets editors complete it.
//! [`Agreement::read`] takes the text of a file and gives an [`Agreement`] or every [`Fault`] in it, with line and column and what to write
//! instead. What it gives is consistent: numbers and names are used once, ranges lie in their types, and every message fits the links it
//! travels on.

mod compare;
mod fault;
mod field;
mod head;
mod message;
mod name;
mod part;
mod section;
mod units;

pub use compare::{Compared, Verdict, compare};
pub use fault::Fault;

use crate::{exit::Exit, fail::Fail, messages::Table};
use fault::Faults;
use section::Section;
use std::path::Path;
use toml::de::DeTable;

/// Most octets of a file.
const LARGEST: usize = 1 << 20;

/// The keys of each table, as the schema has them, too.
pub mod keys {
    /// At the top of the file.
    pub const FILE: [&str; 8] =
        ["agreement", "version", "hub", "text", "link", "board", "message", "$schema"];
    /// Of `[[link]]`.
    pub const LINK: [&str; 3] = ["name", "payload", "text"];
    /// Of `[[board]]`.
    pub const BOARD: [&str; 4] = ["name", "link", "address", "text"];
    /// Of `[[message]]`.
    pub const MESSAGE: [&str; 10] =
        ["name", "number", "class", "way", "board", "fresh", "stop", "moves", "text", "field"];
    /// The words under `type`.
    pub const TYPES: [&str; 15] = [
        "bool", "u8", "u16", "u32", "u64", "i8", "i16", "i32", "i64", "f32", "f64", "choice", "flags",
        "text", "octets",
    ];
    /// Of `[[message.field]]`.
    pub const FIELD: [&str; 14] = [
        "name", "type", "unit", "scale", "offset", "range", "words", "names", "bits", "most", "count",
        "optional", "at-stop", "text",
    ];
}

/// A link between boards, as far as messages must know it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Link {
    /// Name.
    pub name: String,
    /// Largest payload, octets, message number included.
    pub payload: u16,
    /// What it is, for people.
    pub text: String,
}

/// A leaf: a board that talks to the hub.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Board {
    /// Name.
    pub name: String,
    /// The link that it hangs on, by name; empty if the agreement names none.
    pub link: String,
    /// Its address on a medium that others share, 1..=250.
    pub address: Option<u8>,
    /// What it is, for people.
    pub text: String,
}

/// The messages of one machine and who exchanges them.
#[derive(Debug, Clone, PartialEq)]
pub struct Agreement {
    /// The board in the middle.
    pub hub: String,
    /// What the machine is, for people.
    pub text: String,
    /// Links by name.
    pub links: Vec<Link>,
    /// The leaves.
    pub boards: Vec<Board>,
    /// Name, version and messages.
    pub table: Table,
}

impl Agreement {
    /// Reads the text of an agreement file.
    ///
    /// # Errors
    /// Every fault that was found, in the order of the file; at least one.
    pub fn read(source: &str) -> Result<Self, Vec<Fault>> {
        let mut faults = Faults::default();
        if source.len() > LARGEST {
            faults.add(&(0..0), "the file is larger than 1 MiB", "split the machine into several agreements");
            return Err(faults.told(source));
        }
        let (document, errors) = DeTable::parse_recoverable(source);
        for error in &errors {
            let at = error.span().unwrap_or(0..0);
            faults.add(&at, format!("this is no TOML: {}", section::shown(error.message())), "");
        }
        // What is no TOML at all would only give faults that follow from that.
        if !faults.is_empty() {
            return Err(faults.told(source));
        }
        let whole = Section::new("the file".into(), 0..0, document.get_ref(), &keys::FILE, &mut faults);
        let agreement = head::read(&whole, source, &mut faults);
        if faults.is_empty() { Ok(agreement) } else { Err(faults.told(source)) }
    }

    /// Reads an agreement file.
    ///
    /// # Errors
    /// If the file cannot be read, or every fault in it, with file, line and column.
    pub fn load(path: &Path) -> Result<Self, Fail> {
        let name = path.display().to_string();
        let octets = std::fs::read(path).map_err(|error| {
            Fail::io("cannot read the agreement", &error).at(name.as_str()).next("give an agreement file")
        })?;
        let source = std::str::from_utf8(&octets).map_err(|error| {
            let line = octets.iter().take(error.valid_up_to()).filter(|&&octet| octet == b'\n').count() + 1;
            Fail::new(Exit::BadInput, "the agreement is no UTF-8 text").at(format!("{name}:{line}"))
        })?;
        Self::read(source).map_err(|faults| unusable(&name, &faults))
    }

    /// The link of a leaf, if the agreement names one.
    #[must_use]
    pub fn link_of(&self, board: &str) -> Option<&Link> {
        let board = self.boards.iter().find(|known| known.name == board)?;
        self.links.iter().find(|link| link.name == board.link)
    }

    /// Name and version, as they are shown: `observatory 4`.
    #[must_use]
    pub fn title(&self) -> String {
        self.table.title()
    }
}

/// Most faults that are shown at once.
const SHOWN: usize = 20;

fn unusable(name: &str, faults: &[Fault]) -> Fail {
    let count = match faults.len() {
        1 => "a fault".to_owned(),
        many => format!("{many} faults"),
    };
    let mut fail = Fail::new(Exit::BadInput, format!("the agreement has {count}"));
    for fault in faults.iter().take(SHOWN) {
        fail = fail.fault(format!("{name}:{fault}"));
    }
    if faults.len() > SHOWN {
        fail = fail.next("mend these first: some of the others may follow from them");
    }
    fail
}
