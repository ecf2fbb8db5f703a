//! A message of an agreement by its class and name, as the command line says it.

use bellwire::frame::Class;

use crate::{
    exit::Exit,
    fail::Fail,
    messages::{MessageKind, Table, nearest},
};

/// A command line that makes no sense.
pub(super) fn wrong(what: impl Into<String>) -> Fail {
    Fail::new(Exit::Usage, what)
}

/// The message of this class and name; without it an error that says the nearest name, and all of them.
pub(super) fn named<'a>(table: &'a Table, name: &str, class: Class) -> Result<&'a MessageKind, Fail> {
    let of_class = || table.messages().iter().filter(move |kind| kind.class == class);
    of_class().find(|kind| kind.name == name).ok_or_else(|| {
        let names: Vec<_> = of_class().map(|kind| kind.name.as_str()).collect();
        let meant = nearest(name, names.iter().copied()).map(|near| format!(", did you mean '{near}'?"));
        wrong(format!("{} has no {} '{name}'{}", table.title(), class.name(), meant.unwrap_or_default()))
            .next(format!("there are {}", names.join(", ")))
    })
}

/// Refuses a message that the agreement gives to other boards than the leaf that is named.
///
/// # Errors
/// Whose it is.
pub(super) fn for_leaf(kind: Option<&MessageKind>, to: Option<&str>, table: &Table) -> Result<(), Fail> {
    let (Some(kind), Some(leaf)) = (kind, to.and_then(|to| table.leaf(to))) else { return Ok(()) };
    let name = table.who(leaf);
    let is_named = table.leaves().iter().any(|(address, _)| *address == leaf);
    if !is_named || kind.boards.is_empty() || kind.boards.contains(&name) {
        return Ok(());
    }
    let whose = kind.boards.join(" or ");
    let of_leaf = table.leaves().iter().find(|(_, name)| kind.boards.contains(name));
    let fail = wrong(format!("not sent: {} is a message of {whose}, and --to names {name}", kind.name));
    Err(match of_leaf {
        Some((_, theirs)) => fail.next(format!("--to {theirs}, or a message of {name}")),
        None => fail.next(format!(
            "{whose} has no address on this medium: talk with it on its own line, without --to"
        )),
    })
}
