//! Which two boards of a shared medium talk.

use clap::Args;

use super::agreed::AgreedArgs;
use crate::{fail::Fail, machine::Between, messages::Table};

/// Both ends on a medium that others share; neither word: the line is ours and one other board's alone.
#[derive(Debug, Clone, Default, Args)]
pub struct BetweenArgs {
    /// The leaf of a star at the other end, by address (1 to 250) or by its name in the agreement; we are the hub.
    #[arg(long, value_name = "LEAF", conflicts_with = "address", help_heading = "Star")]
    pub to: Option<String>,
    /// Be this leaf of a star; its hub is at the other end.
    #[arg(long, value_name = "LEAF", help_heading = "Star")]
    pub address: Option<String>,
}

impl BetweenArgs {
    /// Both ends, if one is named.
    ///
    /// # Errors
    /// As [`AgreedArgs::leaf`].
    pub fn between(&self, table: &Table) -> Result<Option<Between>, Fail> {
        match &self.address {
            Some(own) => Ok(Some(Between { own: AgreedArgs::leaf(own, table)?, peer: 0 })),
            None => AgreedArgs::with_leaf(self.to.as_deref(), table),
        }
    }
}
