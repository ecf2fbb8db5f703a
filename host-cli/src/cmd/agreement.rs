//! The command `agreement`: checks an agreement file and shows what it says.

use serde_json::{Value, json};

use crate::{
    agreement::Agreement,
    args::agreement::AgreementArgs,
    exit::Exit,
    fail::Fail,
    lines,
    messages::{Field, Form, MessageKind},
    report::harmless,
    shell::Shell,
};

/// Runs `agreement`.
///
/// # Errors
/// If the file cannot be read, or every fault in it.
pub fn run(args: &AgreementArgs, shell: &mut Shell<'_>) -> Result<Exit, Fail> {
    let agreement = Agreement::load(&args.file)?;
    if args.outline {
        shell.line(agreement.table.outline().trim_end())?;
    } else if args.json {
        shell.line(head_record(&agreement))?;
        for message in agreement.table.messages() {
            shell.line(record(message))?;
        }
    } else {
        show(&agreement, shell)?;
    }
    Ok(Exit::Good)
}

fn show(agreement: &Agreement, shell: &mut Shell<'_>) -> Result<(), Fail> {
    let table = &agreement.table;
    shell.line(format_args!("{}, fingerprint {:08x}", table.title(), table.fingerprint()))?;
    if !agreement.text.is_empty() {
        shell.line(lines::wrap("", &harmless(&agreement.text)))?;
    }
    shell.line("")?;
    for link in &agreement.links {
        let on: Vec<_> = agreement.boards.iter().filter(|board| board.link == link.name).collect();
        let on: Vec<_> = on
            .iter()
            .map(|board| match board.address {
                Some(address) => format!("{} (address {address})", board.name),
                None => board.name.clone(),
            })
            .collect();
        let boards = if on.is_empty() { "nobody yet".to_owned() } else { on.join(", ") };
        shell.line(lines::wrap(
            &format!("link {}  ", link.name),
            &format!("{boards}; payload up to {} octets", link.payload),
        ))?;
    }
    if !agreement.links.is_empty() {
        shell.line("")?;
    }
    shell.line("number octets  message and fields")?;
    for message in table.messages() {
        let lead = format!("{:>6} {:>6}  ", message.number, message.most_octets());
        shell.line(lines::wrap(&lead, &format!("{}: {}", message.name, about(message, &agreement.hub))))?;
        for field in &message.fields {
            let lead = format!("       {:>6}    ", field.most_octets());
            shell.line(lines::wrap(&lead, &format!("{}: {}", field.name, what(field))))?;
        }
    }
    Ok(())
}

/// Class, who sends it to whom, and what a set-point means when it grows old.
fn about(message: &MessageKind, hub: &str) -> String {
    let mut text = format!("{}, {}", message.class.name(), message.between(hub));
    if let (Some(fresh), Some(stop)) = (message.fresh_ms, message.at_stop) {
        text.push_str(&format!(", fresh for {fresh} ms, then {}", stop.name()));
    } else if message.moves {
        text.push_str(", moves something");
    }
    text
}

/// Type and values; where the values say the type, they alone.
fn what(field: &Field) -> String {
    match field.form {
        Form::Text(_) | Form::Octets(_) => field.takes(),
        Form::Choice(_) => format!("one of {}", field.takes()),
        _ => format!("{}, {}", field.form.name(), field.takes()),
    }
}

fn head_record(agreement: &Agreement) -> Value {
    let Agreement { hub, text, links, boards, table } = agreement;
    json!({
        "record": "agreement",
        "name": table.name(),
        "version": table.version(),
        "fingerprint": format!("{:08x}", table.fingerprint()),
        "hub": hub,
        "text": text,
        "links": links.iter().map(|link| {
            json!({ "name": link.name, "payload": link.payload, "text": link.text })
        }).collect::<Vec<_>>(),
        "boards": boards.iter().map(|board| {
            json!({ "name": board.name, "link": board.link, "address": board.address, "text": board.text })
        }).collect::<Vec<_>>(),
    })
}

fn record(message: &MessageKind) -> Value {
    let hex = |octets: &Vec<u8>| octets.iter().map(|octet| format!("{octet:02x}")).collect::<String>();
    json!({
        "record": "message",
        "number": message.number,
        "name": message.name,
        "class": message.class.name(),
        "way": message.way.name(),
        "boards": message.boards,
        "octets": message.most_octets(),
        "fresh_ms": message.fresh_ms,
        "stop": message.at_stop.map(bellwire::setpoint::Stop::name),
        "stop_payload": message.stop.as_ref().map(hex),
        "moves": message.moves,
        "text": message.text,
        "fields": message.fields.iter().map(field_record).collect::<Vec<_>>(),
    })
}

fn field_record(field: &Field) -> Value {
    json!({
        "name": field.name,
        "type": field.form.name(),
        "octets": field.most_octets(),
        "unit": field.unit,
        "ucum": field.ucum,
        "takes": field.takes(),
        "text": field.text,
    })
}
