//! Rust: a module for `no_std`, an enum whose postcard octets are those of the wire.

mod body;
mod names;
mod whole;

pub use names::{Named, of as named};

use super::{Extras, prose};
use crate::{agreement::Agreement, messages::MessageKind};

/// For logging from boards, behind each `derive`.
const DEFMT: &str = "#[cfg_attr(feature = \"defmt\", derive(defmt::Format))]\n";

/// The module.
#[must_use]
pub fn module(agreement: &Agreement, extras: Extras) -> String {
    let table = &agreement.table;
    let names = named(table);
    let defmt = if extras.defmt { DEFMT } else { "" };
    let mut out = String::new();
    for line in prose::of_file(agreement) {
        comment("//!", &line, &mut out);
    }
    out.push_str(
        "//!\n//! Needs `serde` with `derive` and `postcard`, both without their default features.\n",
    );
    if extras.defmt {
        out.push_str("//! With the crate's feature `defmt` every type has `defmt::Format`.\n");
    }
    out.push('\n');
    out.push_str("use serde::de::{EnumAccess, VariantAccess, Visitor};\n");
    out.push_str("use serde::{Deserialize, Deserializer, Serialize, Serializer};\n\n");
    out.push_str("/// Fingerprint of the agreement, for the OPEN.\n");
    out.push_str(&format!("pub const FINGERPRINT: u32 = 0x{:08x};\n", table.fingerprint()));
    let most = table.messages().iter().map(MessageKind::most_octets).max().unwrap_or_default();
    out.push_str(&format!("/// Most octets of any message.\npub const MOST_OCTETS: usize = {most};\n"));
    out.push_str(&include_str!("fixed.rs.txt").replace("@@DEFMT\n", defmt));
    if table.messages().iter().any(|message| !message.fields.is_empty()) {
        out.push_str(include_str!("take.rs.txt"));
    }
    for (message, named) in table.messages().iter().zip(&names) {
        body::write(message, named, &agreement.hub, defmt, &mut out);
    }
    whole::write(agreement, &names, defmt, &mut out);
    out
}

/// Documentation: square brackets and angles would be links and HTML.
fn doc(indent: &str, text: &str, out: &mut String) {
    for line in prose::folded(text, 92 - indent.len()) {
        let line = line
            .replace('\\', "\\\\")
            .replace('[', "\\[")
            .replace(']', "\\]")
            .replace('<', "\\<")
            .replace('`', "'");
        comment(&format!("{indent}///"), &line, out);
    }
}

fn comment(lead: &str, line: &str, out: &mut String) {
    out.push_str(lead);
    if !line.is_empty() {
        out.push(' ');
        out.push_str(line);
    }
    out.push('\n');
}

/// The lifetime of what is lent from the payload, where there is any.
fn lifetime(message: &MessageKind) -> &'static str {
    if message.fields.iter().any(|field| prose::lends(&field.form)) { "<'a>" } else { "" }
}
