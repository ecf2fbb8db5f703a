//! The command `explain`: octet by octet, and the first thing wrong.

use serde_json::json;

use crate::{
    args::{explain::ExplainArgs, units::Octets},
    endpoint::Wiring,
    exit::Exit,
    explain::{Explained, Part, Wrong},
    fail::Fail,
    lines,
    shell::Shell,
};

/// Octets of a part that are shown in one line.
const ROW: usize = 8;

/// Runs `explain`. What is wrong with the octets is an answer, not an error: the exit code tells.
///
/// # Errors
/// If the words are no hex, or the agreement cannot be read.
pub fn run(args: &ExplainArgs, shell: &mut Shell<'_>) -> Result<Exit, Fail> {
    let octets: Octets = args.octets.join(" ").parse().map_err(|what: String| {
        Fail::new(Exit::Usage, what).next("write octets as pairs of hex digits, for instance 00 07 41")
    })?;
    let table = args.agreed.table()?;
    let told = Explained::new(&octets.0, args.frame.wiring(Wiring::default()), &table);
    if args.json {
        for Part { at, octets, what } in &told.parts {
            shell.line(json!({ "record": "part", "at": at, "octets": hex(octets, ""), "text": what }))?;
        }
        for Wrong { at, rule, what } in &told.wrong {
            shell.line(json!({ "record": "wrong", "at": at, "rule": rule, "text": what }))?;
        }
    } else {
        show(&told, shell)?;
    }
    Ok(if told.wrong.is_empty() { Exit::Good } else { Exit::NotGood })
}

fn show(told: &Explained, shell: &mut Shell<'_>) -> Result<(), Fail> {
    shell.line("octet                           what it is")?;
    for part in &told.parts {
        let mut rows = part.octets.chunks(ROW);
        let first = hex(rows.next().unwrap_or_default(), " ");
        shell.line(lines::wrap(&format!("{:>5}  {first:<24} ", part.at), &part.what))?;
        for row in rows {
            shell.line(format_args!("       {}", hex(row, " ")))?;
        }
    }
    for (index, Wrong { at, rule, what }) in told.wrong.iter().enumerate() {
        let lead = if index == 0 { "FIRST WRONG  " } else { "then         " };
        let rule = if rule.is_empty() { String::new() } else { format!(" ({rule})") };
        shell.line(lines::wrap(lead, &format!("octet {at}{rule}: {what}")))?;
    }
    if told.wrong.is_empty() {
        let frames =
            if told.frames == 1 { "one frame".to_owned() } else { format!("{} frames", told.frames) };
        shell.line(format_args!("nothing wrong: {frames}"))?;
    }
    Ok(())
}

fn hex(octets: &[u8], between: &str) -> String {
    octets.iter().map(|octet| format!("{octet:02X}")).collect::<Vec<_>>().join(between)
}
