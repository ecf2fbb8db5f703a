//! The command `decode`.

use std::{fs::File, io::Read, sync::Arc, time::Duration};

use crate::{
    args::{
        agreed::AgreedArgs,
        decode::{DecodeArgs, OnlyArgs},
    },
    capture::Tail,
    decode::{self, Done, Filter, Form, Input, Plan, Show, Torn},
    exit::Exit,
    fail::Fail,
    messages::{Table, nearest},
    report::{Format, Left, Look, Names, Start, harmless, moment_text, renderer},
    shell::Shell,
};

/// Threads without `--threads`: more would not be faster, but each needs memory.
const MOST_THREADS: usize = 8;

/// Runs `decode`.
///
/// # Errors
/// If the input cannot be read or the output not be written, or for input that makes no sense.
pub fn run(args: &DecodeArgs, shell: &mut Shell<'_>) -> Result<Exit, Fail> {
    let input = input(args)?;
    let form = input.form();
    if args.inputs.len() > 1 {
        for (number, name) in input.ports().iter().enumerate() {
            shell.remark(format_args!("port {number}: {}", harmless(name)));
        }
    }
    let table = args.agreed.table()?;
    let mut filter = filter(&args.only, &table)?;
    let sheet = args.sheet.as_ref().map(|name| sheet(name, &table)).transpose()?;
    if let Some(number) = sheet {
        // One message, and the decoder need show nothing else.
        filter.messages = vec![number];
    }
    let format = match (args.json, args.csv, sheet) {
        (true, ..) => Format::Json,
        (_, true, _) => Format::Csv,
        (.., Some(number)) => Format::Sheet(number),
        _ => Format::Text,
    };
    let left = if form == Form::Capture { Left::Seconds } else { Left::Octets };
    let look = Look { hex: args.hex, left, ..Look::for_stdout() };
    let start = Arc::new(Start::default());
    let names = Names { ports: input.ports(), ..Names::default() };
    let render = renderer(format, look, table, names, Arc::clone(&start));
    let show = if args.sum { Show::Sum } else { Show::All };
    if show == Show::All {
        let mut head = Vec::new();
        render.head(&mut head);
        shell.out.write_all(&head).map_err(|error| Fail::output(&error))?;
    }
    let stop = shell.stop.flag();
    let plan = Plan {
        threads: threads(args.threads),
        show,
        filter: &filter,
        render: &*render,
        start: &start,
        stop: &stop,
    };
    let done = decode::run(input, shell.out, &plan)?;
    if let (Some(start), Format::Text) = (start.known(), format) {
        shell.remark(format!("seconds count from {}", moment_text(start)));
    }
    finish(&done, form, args, shell)
}

fn input(args: &DecodeArgs) -> Result<Input, Fail> {
    match args.inputs.as_slice() {
        [one] => Input::new(open(one)?, args.form, args.frame).map_err(|fail| fail.at(one)),
        _ if args.form.is_some_and(|form| form != Form::Capture) => {
            Err(Fail::new(Exit::Usage, "only captures have times by which several can be merged")
                .next("decode each input by itself"))
        }
        several => {
            let opened = several.iter().map(|name| Ok((name.clone(), open(name)?)));
            Input::several(opened.collect::<Result<_, Fail>>()?, args.frame)
        }
    }
}

fn open(name: &str) -> Result<Box<dyn Read + Send>, Fail> {
    if name == "-" {
        return Ok(Box::new(std::io::stdin()));
    }
    match File::open(name) {
        Ok(file) if file.metadata().is_ok_and(|data| data.is_dir()) => {
            Err(Fail::new(Exit::BadInput, "this is a folder, and one file is decoded at a time")
                .at(name)
                .next(format!(
                    "name a file in it; all of them: for f in {name}/*; do bellwire decode \"$f\"; done"
                )))
        }
        Ok(file) => Ok(Box::new(file)),
        Err(error) => Err(Fail::io("cannot open the input", &error)
            .at(name)
            .next("give a file that you may read, or - for standard input")),
    }
}

fn threads(asked: Option<u16>) -> usize {
    asked.map(usize::from).unwrap_or_else(|| {
        std::thread::available_parallelism().map_or(1, std::num::NonZero::get).min(MOST_THREADS)
    })
}

/// The number of the message that makes a sheet.
fn sheet(name: &str, table: &Table) -> Result<u16, Fail> {
    let known = table.find(name).filter(|kind| !kind.fields.is_empty());
    known.map(|kind| kind.number).ok_or_else(|| {
        let with_fields = table.messages().iter().filter(|kind| !kind.fields.is_empty());
        let names: Vec<_> = with_fields.map(|kind| kind.name.as_str()).collect();
        let meant = nearest(name, names.iter().copied()).map(|near| format!(", did you mean '{near}'?"));
        Fail::new(Exit::Usage, format!("no message `{name}` with fields{}", meant.unwrap_or_default()))
            .next(format!("use one of {}", names.join(", ")))
    })
}

/// An address in a frame: of a leaf, 0 the hub's, 255 that of all.
fn address(text: &str, table: &Table) -> Result<u8, Fail> {
    let named = [0, 255].into_iter().find(|address| table.who(*address) == *text);
    let next = "of a recording also 0 or the hub's name, 255 or all";
    named.map_or_else(
        || text.parse().or_else(|_| AgreedArgs::leaf(text, table).map_err(|fail| fail.next(next))),
        Ok,
    )
}

fn filter(only: &OnlyArgs, table: &Table) -> Result<Filter, Fail> {
    let message = |name: &String| {
        let known = table.find(name).map(|kind| kind.number).or_else(|| name.parse().ok());
        known.ok_or_else(|| {
            let names: Vec<_> = table.messages().iter().map(|kind| kind.name.as_str()).collect();
            Fail::new(Exit::Usage, format!("there is no message `{name}`"))
                .next(format!("use a message number, or one of {}", names.join(", ")))
        })
    };
    if let (Some(from), Some(to)) = (only.from, only.to)
        && from > to
    {
        return Err(Fail::new(Exit::Usage, "--from is later than --to, so nothing can pass")
            .next("exchange the two times"));
    }
    let ns = |time: Duration| u64::try_from(time.as_nanos()).unwrap_or(u64::MAX);
    Ok(Filter {
        records: only.record.clone(),
        kinds: only.kind.clone(),
        classes: only.class.clone(),
        addresses: only.address.iter().map(|text| address(text, table)).collect::<Result<_, _>>()?,
        numbers: only.number.clone(),
        messages: only.message.iter().map(message).collect::<Result<_, _>>()?,
        ports: only.port.clone(),
        from: only.from.map(ns),
        to: only.to.map(ns),
    })
}

fn finish(done: &Done, form: Form, args: &DecodeArgs, shell: &mut Shell<'_>) -> Result<Exit, Fail> {
    if form != Form::Capture && done.sum.octets == 0 {
        shell.remark("the input is empty");
    }
    if form != Form::Capture && (args.only.from.is_some() || args.only.to.is_some()) {
        shell.remark("this input has no times, so nothing passes --from and --to");
    }
    if let Some((wiring, frames)) = done.guess {
        shell.remark(format!(
            "no frame was found; with --framing {} --fcs {} the first octets hold {frames}",
            wiring.framing, wiring.fcs
        ));
    } else if done.sum.all_frames() == 0 && done.sum.octets > 0 {
        shell.remark("no frame was found, whichever framing is tried: is this what was on the wire,\n        and were its rate and wiring right?");
    }
    match &done.torn {
        Some(Torn { name, tail: tail @ Tail::Damaged { .. } }) => {
            let name = name.as_ref().or(args.inputs.first()).map_or("", String::as_str);
            Err(Fail::new(Exit::BadInput, tail.to_string()).at(name))
        }
        Some(Torn { name: None, tail }) => {
            shell.remark(tail);
            Ok(Exit::Good)
        }
        Some(Torn { name: Some(name), tail }) => {
            shell.remark(format_args!("{name}: {tail}"));
            Ok(Exit::Good)
        }
        None => Ok(Exit::Good),
    }
}
