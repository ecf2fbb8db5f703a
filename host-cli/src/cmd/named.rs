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
