//! The agreement in Markdown, with tables.

use super::{
    CAUTION, ORIGIN,
    cells::{self, Cells},
    legend,
    markup::markdown as escaped,
    moves,
    side::{Side, listed, told},
};
use crate::agreement::Agreement;

/// The page.
#[must_use]
pub fn page(agreement: &Agreement) -> String {
    let table = &agreement.table;
    let mut out = format!("# {}\n\n", table.title());
    out.push_str(&format!("Fingerprint `{:08x}`, hub {}.\n\n", table.fingerprint(), agreement.hub));
    if !agreement.text.trim().is_empty() {
        out.push_str(&format!("{}\n\n", escaped(&agreement.text)));
    }
    if moves(agreement) {
        out.push_str(&format!("**Caution.** {CAUTION}\n\n"));
    }
    out.push_str("## Who sends what\n\n");
    for link in &agreement.links {
        out.push_str(&format!("- Link **{}**: {}\n", link.name, escaped(&told(link))));
    }
    if !agreement.links.is_empty() {
        out.push('\n');
    }
    row(&["board", "what it is", "link", "takes", "sends"].map(str::to_owned), &mut out);
    rule(5, &mut out);
    for side in Side::all(agreement) {
        let name = format!("**{}**", side.name);
        let links: Vec<_> = side.links.iter().map(|link| link.name.as_str()).collect();
        let [takes, sends] = [&side.takes, &side.sends].map(|messages| listed(messages).join(", "));
        row(&[name, escaped(side.text), links.join(", "), takes, sends], &mut out);
    }
    messages(agreement, &mut out);
    fields(agreement, &mut out);
    out.push_str("\n## Words\n\n");
    for (word, meaning) in legend::of(agreement) {
        out.push_str(&format!("- **{word}:** {}\n", escaped(&meaning)));
    }
    out.push_str(&format!("\n{ORIGIN}\n"));
    out
}

fn messages(agreement: &Agreement, out: &mut String) {
    out.push_str("\n## Messages\n\n");
    let heads = ["number", "message", "class", "who to whom", "octets", "fresh, stop, motion", "meaning"];
    row(&heads.map(str::to_owned), out);
    rule(heads.len(), out);
    for message in agreement.table.messages() {
        let name = format!("**{}**", message.name);
        let way = message.between(&agreement.hub);
        let (octets, acts) = (cells::octets(message), cells::acts(message));
        let class = message.class.name().to_owned();
        row(&[message.number.to_string(), name, class, way, octets, acts, escaped(&message.text)], out);
    }
}

fn fields(agreement: &Agreement, out: &mut String) {
    out.push_str("\n## Fields\n\n");
    let mut heads = vec!["message".to_owned()];
    heads.extend(Cells::HEADS.map(str::to_owned));
    row(&heads, out);
    rule(heads.len(), out);
    for message in agreement.table.messages() {
        for (field, cells) in message.fields.iter().zip(Cells::of(message)) {
            let Cells { form, values, unit, step, from, octets } = cells;
            let name = format!("{} {}", message.number, message.name);
            let text = escaped(&field.text);
            row(&[name, field.name.clone(), form, values, unit, step, from, octets, text], out);
        }
    }
}

fn row(cells: &[String], out: &mut String) {
    let cells: Vec<_> = cells.iter().map(|cell| if cell.is_empty() { "-" } else { cell }).collect();
    out.push_str(&format!("| {} |\n", cells.join(" | ")));
}

fn rule(columns: usize, out: &mut String) {
    out.push_str(&format!("|{}\n", "---|".repeat(columns)));
}
