//! The command `tap`: sits between a device and your own program, passes octets on unchanged both ways, and logs them.

use super::showing::{Showing, recorded};
use crate::{
    args::tap::TapArgs,
    endpoint::{Loss, OpenOptions, Tapped, join},
    exit::Exit,
    fail::Fail,
    lines,
    report::Format,
    shell::Shell,
    talk::wiring_of,
};

/// Runs `tap`.
///
/// # Errors
/// If an endpoint cannot be opened, or the recording cannot go on.
pub fn run(args: &TapArgs, shell: &mut Shell<'_>) -> Result<Exit, Fail> {
    let table = args.agreed.table()?;
    let wiring = Some(wiring_of(&args.device, &args.line));
    let options = OpenOptions { line: args.line.settings(), loss: Loss::Wait, wiring };
    let joined = join(&args.device, &args.program, &options)?;
    let source = recorded(Box::new(Tapped::new(joined)), &args.record, shell)?;
    let text = format!(
        "{} (in) and {} (out); let your program open the latter; Ctrl-C ends it",
        args.device, args.program
    );
    shell.remark(lines::wrap("between ", &text));
    let format = if args.json { Format::Json } else { Format::Text };
    let showing = Showing { format, table, hex: args.hex, for_time: args.for_time, frame: args.line.frame };
    showing.run(source, shell)?;
    Ok(Exit::Good)
}
