//! The command `log`: what passes on one or more lines, frame by frame. It only listens, unless told to be a peer.

use super::showing::{Showing, recorded};
use crate::{
    args::{log::LogArgs, peer::SelfArgs},
    endpoint::{EndpointSpec, Gather, Loss, OpenOptions, Source, listen},
    exit::Exit,
    fail::Fail,
    messages::Table,
    report::Format,
    shell::Shell,
    talk::{BeingHub, TakingPart, wiring_of},
};
use std::sync::Arc;

/// Runs `log`.
///
/// # Errors
/// If an endpoint cannot be opened, or the recording cannot go on.
pub fn run(args: &LogArgs, shell: &mut Shell<'_>) -> Result<Exit, Fail> {
    let table = args.agreed.table()?;
    let ourselves = args.agreed.ourselves(&SelfArgs::default(), &table);
    let open = |endpoint| open(endpoint, args, &ourselves, &table);
    let sources = args.endpoints.iter().map(open).collect::<Result<Vec<_>, _>>()?;
    let source = recorded(as_one(sources), &args.record, shell)?;
    if source.is_live() && source.preamble().is_empty() {
        let names: Vec<_> = args.endpoints.iter().map(ToString::to_string).collect();
        shell.remark(format_args!("listening to {}; Ctrl-C ends it with a sum", names.join(", ")));
    }
    let format = if args.json { Format::Json } else { Format::Text };
    let showing = Showing { format, table, hex: args.hex, for_time: args.for_time, frame: args.line.frame };
    showing.run(source, shell)?;
    Ok(Exit::Good)
}

fn open(
    endpoint: &EndpointSpec,
    args: &LogArgs,
    ourselves: &SelfArgs,
    table: &Arc<Table>,
) -> Result<Box<dyn Source>, Fail> {
    if args.hub {
        return Ok(Box::new(BeingHub::open(endpoint, &args.line, ourselves, table)?));
    }
    if args.peer {
        return Ok(Box::new(TakingPart::open(endpoint, &args.line, ourselves)?));
    }
    let wiring = Some(wiring_of(endpoint, &args.line));
    listen(endpoint, &OpenOptions { line: args.line.settings(), loss: Loss::Wait, wiring })
}

fn as_one(mut sources: Vec<Box<dyn Source>>) -> Box<dyn Source> {
    match sources.len() {
        1 => sources.remove(0),
        _ => Box::new(Gather::new(sources)),
    }
}
