//! The command `check`: probes a line and listens (W-48), and says what works and what to look at.

mod tally;
mod verdict;

use std::time::{Duration, Instant};

use bellwire::frame::{Addresses, Extension, Header, Kind};

pub use tally::{Probe, Tally};
pub use verdict::{Verdict, advice};

use crate::{
    args::{agreed::AgreedArgs, check::CheckArgs},
    clock,
    endpoint::{Direction, Item, Loss},
    exit::Exit,
    fail::Fail,
    lines,
    machine::Between,
    shell::Shell,
    talk::{codec, open_endpoint, random32, wiring_of},
};

/// Octets of filling, in turn: isolated short frames and long bursts fail for different reasons. The long ones are no longer than what a board with the crate's
/// usual buffers takes (payloads of 48 octets), or a board would lose them on a line without fault.
const FILLINGS: [usize; 4] = [0, 44, 16, 44];

/// Runs `check`.
///
/// # Errors
/// If the endpoint cannot be opened or is lost.
pub fn run(args: &CheckArgs, shell: &mut Shell<'_>) -> Result<Exit, Fail> {
    let wiring = wiring_of(&args.endpoint, &args.line);
    let leaf = AgreedArgs::with_leaf(args.to.as_deref(), &*args.agreed.table()?)?;
    let mut endpoint = open_endpoint(&args.endpoint, &args.line, Loss::Wait)?;
    shell.remark(format_args!(
        "checking {} for {:?}: {}, {} framing, {}-bit FCS",
        args.endpoint,
        args.for_time,
        args.line.settings(),
        wiring.framing,
        wiring.fcs
    ));
    let mut codec = codec(wiring);
    let addresses = leaf.map(|Between { own, peer }| Addresses { to: peer, from: own });
    let ours = leaf.map(|Between { own, peer }| Addresses { to: own, from: peer });
    let mut tally = Tally { ours, ..Tally::default() };
    #[expect(clippy::cast_possible_truncation, reason = "any 16 bits will do")]
    let mut id = random32()? as u16;
    let mut number = 0_usize;
    let start = Instant::now();
    let grace = (args.for_time / 4).min(Duration::from_millis(500));
    let pause = pause(args.line.settings().octet_rate());
    let mut due = Duration::ZERO;
    while start.elapsed() < args.for_time && !shell.stop.is_set() {
        tally.present |= endpoint.present();
        // What is sent while nobody is there is no loss of the line.
        if endpoint.present() && start.elapsed() >= due && start.elapsed() + grace < args.for_time {
            let filling = FILLINGS[number % FILLINGS.len()].min(tally.longest_filling());
            let header =
                Header { extension: Some(Extension::Probe), addresses, ..Header::new(Kind::Extended) };
            let wire = codec.encode(&codec.frame(&header, &probe_body(id, filling)));
            tally.sent(id, filling, clock::now());
            endpoint.write(&wire)?;
            (id, number) = (id.wrapping_add(1), number + 1);
            due = start.elapsed() + pause;
        }
        let left = due.min(args.for_time).saturating_sub(start.elapsed());
        match endpoint.next(left.clamp(Duration::from_millis(1), Duration::from_millis(50)))? {
            Some(Item::Chunk(chunk)) if chunk.direction == Direction::In => {
                tally.octets(&chunk.octets);
                codec.read(&chunk.octets, &mut |read| tally.found(&read, chunk.at));
            }
            Some(Item::Note(note)) => shell.remark(note.text),
            Some(Item::Gap(gap)) => shell.remark(gap.why),
            Some(Item::End) => break,
            _ => {}
        }
    }
    if args.json {
        json(&tally, args, shell)?
    } else {
        text(&tally, args, shell)?
    }
    Ok(tally.verdict().exit())
}

/// Time between two probes: a peer answers at most one in the time of two OPEN frames (W-48), and a long one must have passed.
fn pause(octet_rate: u32) -> Duration {
    Duration::from_millis(150).max(Duration::from_secs(1) * 160 / octet_rate.max(1))
}

/// Id and filling: the octets that stuffing, parity and clocks stumble over.
fn probe_body(id: u16, filling: usize) -> Vec<u8> {
    const PATTERN: [u8; 8] = [0x55, 0x00, 0xFF, 0x7E, 0xC0, 0x0F, 0x80, 0x11];
    id.to_le_bytes().into_iter().chain(PATTERN.into_iter().cycle().take(filling)).collect()
}

fn percent(part: usize, all: usize) -> f64 {
    100.0 * part as f64 / all.max(1) as f64
}

fn text(tally: &Tally, args: &CheckArgs, shell: &mut Shell<'_>) -> Result<(), Fail> {
    let trips = tally.round_trips();
    let (sent, answers) = (tally.probed(), trips.len());
    shell.line(format_args!("sent        {sent} probes"))?;
    shell.line(format_args!(
        "received    {} octets: {answers} answers, {} other frames, {} refused",
        tally.octets,
        tally.others,
        tally.refused()
    ))?;
    for (reject, count) in &tally.rejects {
        shell.line(format_args!("refused     {count} {reject}"))?;
    }
    if !tally.text.is_empty() {
        shell.line(format_args!("text        {}", lines::fit(&tally.text.escape_ascii().to_string(), 68)))?;
    }
    if let [first, .., last] | [first @ last] = trips.as_slice() {
        let middle = trips.get(answers / 2).unwrap_or(last);
        let [first, middle, last] = [first, middle, last].map(|trip| lines::time(*trip));
        shell.line(format_args!("round trip  least {first}, middle {middle}, most {last}"))?;
        let lost = sent - answers;
        shell.line(format_args!("lost        {lost} of {sent} ({:.1} %)", percent(lost, sent)))?;
    }
    shell.line(format_args!("result      {}", tally.verdict().sentence()))?;
    let steps = advice(tally, args);
    if !steps.is_empty() {
        shell.line("")?;
        shell.line("Look at, in this order:")?;
    }
    for (number, step) in steps.iter().enumerate() {
        shell.line(lines::wrap(&format!("{:>2}. ", number + 1), step))?;
    }
    Ok(())
}

fn json(tally: &Tally, args: &CheckArgs, shell: &mut Shell<'_>) -> Result<(), Fail> {
    let trips = tally.round_trips();
    let micros = |trip: Option<&Duration>| trip.map(|trip| trip.as_nanos() as f64 / 1000.0);
    let rejects: serde_json::Map<_, _> =
        tally.rejects.iter().map(|(reject, &count)| (reject.name().to_owned(), count.into())).collect();
    shell.line(serde_json::json!({
        "record": "check",
        "endpoint": args.endpoint.to_string(),
        "to": args.to,
        "result": tally.verdict().word(),
        "probes": tally.probed(),
        "answers": trips.len(),
        "echoes": tally.echoes,
        "other_frames": tally.others,
        "octets": tally.octets,
        "text_octets": tally.text_octets,
        "rejects": rejects,
        "round_trip_us": {
            "least": micros(trips.first()), "middle": micros(trips.get(trips.len() / 2)), "most": micros(trips.last())
        },
        "look_at": advice(tally, args),
    }))
}
