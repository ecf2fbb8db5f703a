//! What travels from leaf to leaf by way of the hub (W-68), in the words that text and JSON share.

use super::Frame;
use crate::messages::{Table, behind_hearing};
use bellwire::{
    frame::Kind,
    star::{Carried, FarOutcome, Relayed},
};

/// What an errand or report relays, if it does.
pub(super) fn relayed<'a>(frame: &'a Frame<'_>) -> Option<Relayed<'a>> {
    let may = matches!(frame.header.kind, Kind::Errand | Kind::Report);
    if may { Relayed::parse(behind_hearing(&frame.payload)).ok().flatten() } else { None }
}

/// The outcome that the hub tells, as a word.
pub(super) const fn outcome(relayed: &Relayed<'_>) -> Option<&'static str> {
    match relayed.carried {
        Carried::Message(_) => None,
        Carried::Outcome(FarOutcome::Delivered) => Some("delivered"),
        Carried::Outcome(FarOutcome::NotSent) => Some("not sent"),
        Carried::Outcome(FarOutcome::Unknown) => Some("unknown"),
    }
}

/// Who is at the far end, and what the first leaf calls the message.
pub(super) fn text(relayed: &Relayed<'_>, frame: &Frame<'_>, table: &Table) -> String {
    let (leaf, name) = (table.who(relayed.other), relayed.name);
    if let Some(outcome) = outcome(relayed) {
        return format!("relayed to {leaf} as {name}: {outcome}");
    }
    let way = if frame.header.addresses.is_some_and(|addresses| addresses.to != 0) { "from" } else { "for" };
    format!("relayed {way} {leaf} as {name}")
}
