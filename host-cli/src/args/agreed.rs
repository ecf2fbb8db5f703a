//! Which agreement holds, the same for every command.

use std::{path::PathBuf, sync::Arc};

use clap::Args;

use super::peer::SelfArgs;
use crate::{agreement::Agreement, exit::Exit, fail::Fail, messages::Table, observatory};

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

    /// Who we are: with an agreement of our own we state its fingerprint, unless another was asked for.
    #[must_use]
    pub fn ourselves(&self, ourselves: &SelfArgs, table: &Table) -> SelfArgs {
        let stated = (!self.files.is_empty()).then(|| table.fingerprint());
        SelfArgs { fingerprint: ourselves.fingerprint.or(stated), ..ourselves.clone() }
    }
}
