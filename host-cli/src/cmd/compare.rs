//! The command `compare`: what boards with two versions of an agreement do with each other's messages.

use serde_json::json;

use crate::{
    agreement::{Agreement, Compared, Verdict, compare},
    args::compare::CompareArgs,
    exit::Exit,
    fail::Fail,
    lines,
    messages::Table,
    shell::Shell,
};

/// Runs `compare`: good if nothing is refused.
///
/// # Errors
/// If a file cannot be read or has faults.
pub fn run(args: &CompareArgs, shell: &mut Shell<'_>) -> Result<Exit, Fail> {
    let old = Agreement::load(&args.old)?.table;
    let new = Agreement::load(&args.new)?.table;
    let compared = compare(&old, &new);
    if args.json {
        shell.line(json!({
            "record": "compared",
            "old": format!("{:08x}", old.fingerprint()),
            "new": format!("{:08x}", new.fingerprint()),
            "same": old.fingerprint() == new.fingerprint(),
        }))?;
        for Compared { number, name, by_old, by_new, why } in &compared {
            shell.line(json!({
                "record": "message",
                "number": number,
                "name": name,
                "by_old": by_old.map(Verdict::name),
                "by_new": by_new.map(Verdict::name),
                "why": why,
            }))?;
        }
    } else {
        show(&old, &new, &compared, shell)?;
    }
    let refused = |verdict: Option<Verdict>| verdict == Some(Verdict::Refused);
    let bad = compared.iter().any(|message| refused(message.by_old) || refused(message.by_new));
    Ok(if bad { Exit::NotGood } else { Exit::Good })
}

fn show(old: &Table, new: &Table, compared: &[Compared], shell: &mut Shell<'_>) -> Result<(), Fail> {
    shell.line(format_args!("old  {:08x} ({})", old.fingerprint(), old.title()))?;
    shell.line(format_args!("new  {:08x} ({})", new.fingerprint(), new.title()))?;
    shell.line("")?;
    if old.fingerprint() == new.fingerprint() {
        return shell.line("The same on the wire: boards with either open sessions with each other.");
    }
    shell.line(lines::wrap(
        "",
        "The fingerprints differ: no session opens between an old board and a new one (W-30), and set-points and errands are held back. \
         What follows holds for listeners, for recordings, and where one side states no fingerprint.",
    ))?;
    shell.line("")?;
    shell.line("number  old board   new board   message and what differs")?;
    shell.line("        takes new   takes old")?;
    let word = |verdict: Option<Verdict>| verdict.map_or("-", Verdict::name);
    let mut same = 0;
    for message in compared {
        if (message.by_old, message.by_new) == (Some(Verdict::Same), Some(Verdict::Same)) {
            same += 1;
            continue;
        }
        let lead =
            format!("{:>6}  {:<10}  {:<10}  ", message.number, word(message.by_old), word(message.by_new));
        shell.line(lines::wrap(&lead, &format!("{}: {}", message.name, message.why.join("; "))))?;
    }
    shell.line(format_args!("{same} messages are the same"))
}
