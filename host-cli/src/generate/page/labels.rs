//! A sheet of labels, one to cut out for each board.

use super::{
    cells,
    html::{foot, head},
    markup::html as escaped,
    side::{Side, told},
};
use crate::{
    agreement::Agreement,
    messages::{Field, MessageKind},
};

/// What a board that drives something has on its label.
const CAUTION: &str =
    "It may move without warning. The freshness limit is a functional stop, not an emergency stop.";

/// The sheet.
#[must_use]
pub fn page(agreement: &Agreement) -> String {
    let mut out = head(&format!("{}, labels", agreement.table.title()), include_str!("labels.css"));
    out.push_str("<main>\n");
    for side in Side::all(agreement) {
        label(agreement, &side, &mut out);
    }
    out.push_str("</main>\n");
    foot(&mut out);
    out
}

fn label(agreement: &Agreement, side: &Side<'_>, out: &mut String) {
    let table = &agreement.table;
    out.push_str(&format!(
        "<section>\n<header>\n<h1>{}</h1>\n<p>{}<br/><b>{:08x}</b></p>\n</header>\n",
        escaped(side.name),
        escaped(&table.title()),
        table.fingerprint()
    ));
    if !side.text.trim().is_empty() {
        out.push_str(&format!("<p>{}</p>\n", escaped(side.text)));
    }
    for link in &side.links {
        out.push_str(&format!("<p><b>{}</b> {}</p>\n", escaped(&link.name), escaped(&told(link))));
    }
    if side.takes.iter().any(|message| message.moves) && side.name != agreement.hub {
        out.push_str(&format!("<p class=\"caution\"><b>Caution.</b> {}</p>\n", escaped(CAUTION)));
    }
    list("takes", &side.takes, out);
    list("sends", &side.sends, out);
    out.push_str("</section>\n");
}

fn list(head: &str, messages: &[&MessageKind], out: &mut String) {
    if messages.is_empty() {
        out.push_str(&format!("<h2>{head} nothing</h2>\n"));
        return;
    }
    out.push_str(&format!("<h2>{head}</h2>\n<table>\n"));
    for message in messages {
        let fields: Vec<_> = message.fields.iter().map(field).collect();
        let fields = if fields.is_empty() { String::new() } else { format!(": {}", fields.join("; ")) };
        let acts = match cells::acts(message) {
            none if none.is_empty() => none,
            acts => format!(" <em>{}</em>", escaped(&acts)),
        };
        out.push_str(&format!(
            "<tr><th scope=\"row\">{}</th><td><b>{}</b> <i>{}</i>{}{acts}</td></tr>\n",
            message.number,
            escaped(&message.name),
            message.class.name(),
            escaped(&fields)
        ));
    }
    out.push_str("</table>\n");
}

/// A field in few words.
fn field(field: &Field) -> String {
    let unit = if field.unit.is_empty() { String::new() } else { format!(" {}", field.unit) };
    match cells::values(field).as_str() {
        "any" => format!("{}{unit}", field.name),
        values => format!("{} {values}{unit}", field.name),
    }
}
