//! Which agreement holds, the same for every command.

use std::{path::PathBuf, sync::Arc};

use clap::Args;

use super::peer::SelfArgs;
use crate::{
    agreement::Agreement,
    exit::Exit,
    fail::Fail,
    machine::Between,
    messages::{Table, nearest},
    observatory,
};

/// The agreement of the machine.
#[derive(Debug, Clone, Default, Args)]
pub struct AgreedArgs {
    /// The agreement that holds; without it the observatory's. Given again: further versions, for boards that hold those.
    #[arg(long = "agreement", value_name = "FILE", help_heading = "Messages")]
    pub files: Vec<PathBuf>,
}

impl AgreedArgs {
    /// The messages of the first file, which knows the others.
    ///
    /// # Errors
    /// A file that cannot be read or has faults, or two that are the same on the wire.
    pub fn table(&self) -> Result<Arc<Table>, Fail> {
        let mut tables: Vec<Table> = Vec::new();
        for path in &self.files {
            let table = Agreement::load(path)?.table;
            if tables.iter().any(|before| before.fingerprint() == table.fingerprint()) {
                return Err(Fail::new(Exit::Usage, "two of the agreements are the same on the wire")
                    .at(path.display().to_string())
                    .next("give each of them once"));
            }
            tables.push(table);
        }
        if tables.is_empty() {
            return Ok(Arc::new(observatory::table()));
        }
        let ours = tables.remove(0);
        Ok(Arc::new(ours.with_others(tables)))
    }

    /// The address of a leaf that is named by address or by name.
    ///
    /// # Errors
    /// A name that the agreement does not have, or no address of a leaf.
    pub fn leaf(text: &str, table: &Table) -> Result<u8, Fail> {
        table.leaf(text).ok_or_else(|| {
            let names: Vec<_> = table.leaves().iter().map(|(_, name)| name.as_str()).collect();
            let meant = nearest(text, names.iter().copied()).map(|near| format!(", did you mean '{near}'?"));
            let fail =
                Fail::new(Exit::Usage, format!("there is no leaf `{text}`{}", meant.unwrap_or_default()));
            let known: Vec<_> =
                table.leaves().iter().map(|(address, name)| format!("{name} ({address})")).collect();
            let known = if known.is_empty() { "none".to_owned() } else { known.join(", ") };
            fail.next(format!(
                "give an address from 1 to 250, or a board with an address in the agreement: {known}"
            ))
        })
    }

    /// The hub's side of a link with the leaf `to`, if one is named.
    ///
    /// # Errors
    /// As [`AgreedArgs::leaf`].
    pub fn with_leaf(to: Option<&str>, table: &Table) -> Result<Option<Between>, Fail> {
        to.map(|to| Ok(Between { own: 0, peer: Self::leaf(to, table)? })).transpose()
    }

    /// Who we are: with an agreement of our own we state its fingerprint, unless another was asked for.
    #[must_use]
    pub fn ourselves(&self, ourselves: &SelfArgs, table: &Table) -> SelfArgs {
        let stated = (!self.files.is_empty()).then(|| table.fingerprint());
        SelfArgs { fingerprint: ourselves.fingerprint.or(stated), ..ourselves.clone() }
    }
}
