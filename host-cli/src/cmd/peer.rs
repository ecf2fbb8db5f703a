//! The command `peer`: a running peer, so that a board has somebody to talk to.

use std::time::{Duration, Instant};

use crate::{
    args::{agreed::AgreedArgs, peer::PeerArgs},
    endpoint::Loss,
    exit::Exit,
    fail::Fail,
    lines,
    machine::Between,
    report,
    shell::Shell,
    talk::{Happening, Repeats, Talk, Teller},
};

/// The longest wait, so that a wish to stop is seen soon.
const NAP: Duration = Duration::from_millis(100);

/// Runs `peer`.
///
/// # Errors
/// If the endpoint cannot be opened or is lost for good.
pub fn run(args: &PeerArgs, shell: &mut Shell<'_>) -> Result<Exit, Fail> {
    let table = args.agreed.table()?;
    let mut ourselves = args.agreed.ourselves(&args.ourselves, &table);
    if let Some(address) = &args.address {
        ourselves.between = Some(Between { own: AgreedArgs::leaf(address, &table)?, peer: 0 });
    }
    let mut talk = Talk::open(&args.endpoint, &args.line, &ourselves, Loss::Wait)?;
    let format = if args.json { report::Format::Json } else { report::Format::Text };
    let teller = Teller::new(format, &table, talk.identity());
    let text = format!("on {}; it confirms every message and acts on none. Ctrl-C stops.", args.endpoint);
    shell.remark(lines::wrap(&format!("peer {:016x} ", talk.identity()), &text));
    let start = Instant::now();
    let mut repeats = Repeats::default();
    let (mut messages, mut sessions, mut mismatch) = (0_u64, 0_u64, false);
    while !shell.stop.is_set() {
        let left = args.for_time.map_or(NAP, |time| time.saturating_sub(start.elapsed()));
        if left.is_zero() {
            break;
        }
        let next = talk.next(left.min(NAP))?;
        if let Some(text) = repeats.due(next.as_ref(), Instant::now()) {
            teller.heard("refused", text, shell)?;
        }
        let Some(happening) = next else { continue };
        // JSON has every refusal: a script counts for itself.
        if args.json || !repeats.swallows(&happening, Instant::now()) {
            teller.happening(&happening, shell)?;
        }
        match happening {
            Happening::Message(_) => messages += 1,
            Happening::Opened(_) => sessions += 1,
            Happening::Mismatch { .. } => mismatch = true,
            Happening::End => break,
            _ => {}
        }
    }
    if let Some(text) = repeats.rest(Instant::now()) {
        teller.heard("refused", text, shell)?;
    }
    talk.close();
    talk.flush()?;
    shell.remark(format_args!("{messages} messages in {sessions} sessions"));
    Ok(if mismatch && sessions == 0 { Exit::Mismatch } else { Exit::Good })
}
