//! The command `replay`: sends a capture again, at recorded or scaled speed.

mod sieve;

use std::{
    collections::BTreeMap,
    sync::Arc,
    time::{Duration, Instant},
};

use sieve::{LeftOut, Sieve};

use crate::{
    args::replay::{ReplayArgs, Speed, Way},
    caution,
    endpoint::{self, Chunk, Direction, Endpoint, EndpointSpec, Item, Loss, OpenOptions, Source, Wiring},
    exit::Exit,
    fail::Fail,
    lines,
    messages::Table,
    shell::Shell,
    talk::{linger, open_endpoint, wiring_of},
};

/// The longest sleep, so that a wish to stop is seen soon.
const NAP: Duration = Duration::from_millis(50);

/// What was done.
#[derive(Debug, Default)]
struct Books {
    octets: u64,
    pieces: u64,
    left_out: LeftOut,
    other_ports: u64,
    came_in: u64,
}

/// Runs `replay`.
///
/// # Errors
/// If the capture or the endpoint cannot be opened, or the capture is no good.
pub fn run(args: &ReplayArgs, shell: &mut Shell<'_>) -> Result<Exit, Fail> {
    // Without an agreement nobody here knows which errands move something.
    let table = if args.agreed.files.is_empty() { None } else { Some(args.agreed.table()?) };
    let file = EndpointSpec::Path { path: args.file.clone(), line: None };
    let mut capture =
        endpoint::listen(&file, &OpenOptions { line: args.line.settings(), loss: Loss::End, wiring: None })?;
    if args.arm {
        let framing = wiring_of(&args.endpoint, &args.line).framing;
        caution::open_way("no set-points and errands", framing, args.open_way)?;
    }
    let mut endpoint = open_endpoint(&args.endpoint, &args.line, Loss::End)?;
    if args.arm {
        shell.remark(lines::wrap("", caution::MOVING));
    }
    let mut books = Books::default();
    wait_for_somebody(args, endpoint.as_mut(), shell)?;
    let start = Instant::now();
    let mut player = Player { args, table, endpoint: endpoint.as_mut() };
    player.send_all(capture.as_mut(), shell, &mut books)?;
    linger(endpoint.as_mut(), &args.endpoint)?;
    tell(args, &books, start.elapsed(), shell)?;
    Ok(Exit::Good)
}

fn wait_for_somebody(
    args: &ReplayArgs,
    endpoint: &mut dyn Endpoint,
    shell: &mut Shell<'_>,
) -> Result<(), Fail> {
    let mut books = Books::default();
    if !endpoint.present() {
        shell.remark(format_args!("waiting until somebody opens {}", args.endpoint));
    }
    while !endpoint.present() && !shell.stop.is_set() {
        wait(endpoint, NAP, &mut books)?;
    }
    Ok(())
}

/// Sleeps while what comes in is read, so that nobody is held up.
fn wait(endpoint: &mut dyn Endpoint, span: Duration, books: &mut Books) -> Result<(), Fail> {
    let until = Instant::now() + span;
    loop {
        let left = until.saturating_duration_since(Instant::now());
        match endpoint.next(left)? {
            Some(Item::Chunk(chunk)) => books.came_in += chunk.octets.len() as u64,
            Some(Item::End) => std::thread::sleep(left),
            _ => {}
        }
        if Instant::now() >= until {
            return Ok(());
        }
    }
}

/// What sending a capture again needs.
struct Player<'a> {
    args: &'a ReplayArgs,
    /// The agreement that was given.
    table: Option<Arc<Table>>,
    endpoint: &'a mut dyn Endpoint,
}

impl Player<'_> {
    fn send_all(
        &mut self,
        capture: &mut dyn Source,
        shell: &mut Shell<'_>,
        books: &mut Books,
    ) -> Result<(), Fail> {
        let Self { args, table, endpoint } = self;
        let mut sieves: BTreeMap<Direction, Sieve> = BTreeMap::new();
        let mut clock: Option<(u64, Instant)> = None;
        while !shell.stop.is_set() {
            let chunk = match capture.next(NAP)? {
                Some(Item::End) => break,
                Some(Item::Note(note)) => {
                    shell.remark(format_args!("recorded: {}", note.text));
                    continue;
                }
                Some(Item::Chunk(chunk)) if wanted(args, &chunk, books) => chunk,
                _ => continue,
            };
            let known =
                capture.ports().get(usize::from(chunk.port)).and_then(|port| port.wiring).unwrap_or_default();
            let (first, start) = *clock.get_or_insert_with(|| (chunk.at, Instant::now()));
            if let Speed::Times(times) = args.speed {
                let due = start + Duration::from_nanos(chunk.at.saturating_sub(first)).div_f64(times);
                while Instant::now() < due && !shell.stop.is_set() {
                    wait(*endpoint, due.saturating_duration_since(Instant::now()).min(NAP), books)?;
                }
            }
            let octets = if args.arm {
                chunk.octets
            } else {
                let sieve = sieves
                    .entry(chunk.direction)
                    .or_insert_with(|| Sieve::new(wiring(args, known), table.clone()));
                sieve.pass(&chunk.octets, &mut books.left_out)
            };
            send(*endpoint, &octets, books)?;
        }
        for sieve in sieves.values_mut() {
            send(*endpoint, &sieve.rest(), books)?;
        }
        Ok(())
    }
}

fn wiring(args: &ReplayArgs, known: Wiring) -> Wiring {
    args.line.frame.wiring(known)
}

fn wanted(args: &ReplayArgs, chunk: &Chunk, books: &mut Books) -> bool {
    if chunk.port != args.port {
        books.other_ports += 1;
        return false;
    }
    match args.direction {
        Way::Both => true,
        Way::In => chunk.direction == Direction::In,
        Way::Out => chunk.direction == Direction::Out,
    }
}

fn send(endpoint: &mut dyn Endpoint, octets: &[u8], books: &mut Books) -> Result<(), Fail> {
    if octets.is_empty() {
        return Ok(());
    }
    endpoint.write(octets)?;
    books.octets += octets.len() as u64;
    books.pieces += 1;
    Ok(())
}

fn tell(args: &ReplayArgs, books: &Books, took: Duration, shell: &mut Shell<'_>) -> Result<(), Fail> {
    let LeftOut { set_points, errands } = books.left_out;
    if args.json {
        return shell.line(serde_json::json!({
            "record": "replay",
            "octets": books.octets,
            "pieces": books.pieces,
            "set_points_left_out": set_points,
            "errands_left_out": errands,
            "other_ports_left_out": books.other_ports,
            "octets_received": books.came_in,
            "seconds": took.as_secs_f64(),
        }));
    }
    shell.line(format_args!(
        "sent      {} octets in {} pieces, {}",
        books.octets,
        books.pieces,
        lines::time(took)
    ))?;
    if set_points + errands > 0 {
        shell.line(format_args!(
            "left out  {set_points} set-points and {errands} errands: they may move something."
        ))?;
        shell.line("          --arm sends them too; read the caution in README first.")?;
    }
    if books.other_ports > 0 {
        shell.line(format_args!(
            "left out  {} pieces of other ports; --port chooses one",
            books.other_ports
        ))?;
    }
    if books.octets == 0 && set_points + errands == 0 {
        shell.line("nothing   to send this way; --direction chooses out, in or both")?;
    }
    Ok(())
}
