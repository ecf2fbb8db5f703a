//! The agreement as a page of HTML that stands alone, for one or two sheets of A4.

use super::{
    CAUTION, ORIGIN,
    cells::{self, Cells},
    legend,
    markup::html as escaped,
    moves,
    side::{Side, listed, told},
};
use crate::{agreement::Agreement, messages::MessageKind};

/// The page.
#[must_use]
pub fn page(agreement: &Agreement) -> String {
    let table = &agreement.table;
    let mut out = head(&table.title(), include_str!("page.css"));
    out.push_str(&format!(
        "<header>\n<h1>{} <small>version {}</small></h1>\n<p class=\"mark\">fingerprint <b>{:08x}</b></p>\n</header>\n",
        escaped(table.name()),
        table.version(),
        table.fingerprint()
    ));
    if !agreement.text.trim().is_empty() {
        out.push_str(&format!("<p>{}</p>\n", escaped(&agreement.text)));
    }
    if moves(agreement) {
        out.push_str(&format!("<p class=\"caution\"><b>Caution.</b> {}</p>\n", escaped(CAUTION)));
    }
    boards(agreement, &mut out);
    out.push_str("<table class=\"messages\">\n<colgroup>");
    for head in Cells::HEADS {
        out.push_str(&format!("<col class=\"{}\"/>", head.replace(' ', "-")));
    }
    out.push_str("</colgroup>\n<thead>\n<tr>");
    for head in Cells::HEADS {
        out.push_str(&format!("<th scope=\"col\">{head}</th>"));
    }
    out.push_str("</tr>\n</thead>\n");
    for message in table.messages() {
        rows(message, &agreement.hub, &mut out);
    }
    out.push_str("</table>\n<dl>\n");
    for (word, meaning) in legend::of(agreement) {
        out.push_str(&format!("<div><dt>{}</dt><dd>{}</dd></div>\n", escaped(&word), escaped(&meaning)));
    }
    out.push_str("</dl>\n");
    foot(&mut out);
    out
}

/// What stands in front of every page.
pub(super) fn head(title: &str, style: &str) -> String {
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\"/>\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n\
         <title>{}</title>\n<style>\n{style}</style>\n</head>\n<body>\n",
        escaped(title)
    )
}

/// What stands behind every page.
pub(super) fn foot(out: &mut String) {
    out.push_str(&format!("<footer>{}</footer>\n</body>\n</html>\n", escaped(ORIGIN)));
}

fn boards(agreement: &Agreement, out: &mut String) {
    out.push_str("<table class=\"boards\">\n<thead>\n<tr>");
    for head in ["board", "link", "takes", "sends"] {
        out.push_str(&format!("<th scope=\"col\">{head}</th>"));
    }
    out.push_str("</tr>\n</thead>\n<tbody>\n");
    for side in Side::all(agreement) {
        let links: Vec<_> = side.links.iter().map(|link| link.name.clone()).collect();
        out.push_str(&format!(
            "<tr><th scope=\"row\">{} <small>{}</small></th><td>{}</td><td>{}</td><td>{}</td></tr>\n",
            escaped(side.name),
            escaped(side.text),
            whole(&links),
            whole(&listed(&side.takes)),
            whole(&listed(&side.sends))
        ));
    }
    out.push_str("</tbody>\n</table>\n");
    for link in &agreement.links {
        out.push_str(&format!("<p><b>{}</b> {}</p>\n", escaped(&link.name), escaped(&told(link))));
    }
}

/// Names, none of them broken over two lines.
fn whole(names: &[String]) -> String {
    let names: Vec<_> = names.iter().map(|name| format!("<span>{}</span>", escaped(name))).collect();
    if names.is_empty() { "-".to_owned() } else { names.join(", ") }
}

/// One message: its head, then a row for each field.
fn rows(message: &MessageKind, hub: &str, out: &mut String) {
    let acts = match cells::acts(message) {
        none if none.is_empty() => none,
        acts => format!(" <b class=\"acts\">{}</b>", escaped(&acts)),
    };
    out.push_str(&format!(
        "<tbody>\n<tr class=\"message\"><th scope=\"rowgroup\" colspan=\"2\"><span>{}</span> {}</th>\
         <td colspan=\"4\">{}, {}{acts}</td><td>{}</td><td>{}</td></tr>\n",
        message.number,
        escaped(&message.name),
        message.class.name(),
        escaped(&message.between(hub)),
        cells::octets(message),
        escaped(&message.text)
    ));
    for (field, cells) in message.fields.iter().zip(Cells::of(message)) {
        let Cells { form, values, unit, step, from, octets } = cells;
        out.push_str(&format!("<tr><th scope=\"row\">{}</th>", escaped(&field.name)));
        for cell in [&form, &values, &unit, &step, &from, &octets, &field.text] {
            out.push_str(&format!("<td>{}</td>", escaped(cell)));
        }
        out.push_str("</tr>\n");
    }
    out.push_str("</tbody>\n");
}
