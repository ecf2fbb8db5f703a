//! The command `roster`: who is on a medium, and how well each is heard.

use std::{
    collections::VecDeque,
    time::{Duration, Instant},
};

use bellwire::frame::{Addresses, Extension, Header, Kind};

use crate::{
    args::{agreed::AgreedArgs, roster::RosterArgs},
    clock,
    endpoint::{
        Chunk, Direction, Endpoint, EndpointSpec, Gather, Item, Loss, OpenOptions, PortInfo, Source, listen,
    },
    exit::Exit,
    fail::Fail,
    lines,
    messages::Table,
    report::{self, Tracker, harmless},
    roster::{How, Place, Roster, Row},
    shell::Shell,
    talk::{Codec, codec, open_endpoint, wiring_of},
};

/// How long to listen without `--for`.
const LISTEN: Duration = Duration::from_secs(10);
/// The longest sleep, so that a wish to stop is seen soon.
const NAP: Duration = Duration::from_millis(50);
/// Between two questions: a slow radio takes as long for one and its answer.
const PAUSE: Duration = Duration::from_millis(250);
/// How often a leaf that does not answer is asked.
const ROUNDS: usize = 3;

/// Runs `roster`.
///
/// # Errors
/// If an endpoint cannot be opened, a leaf's name is not known, or a capture cannot be read.
pub fn run(args: &RosterArgs, shell: &mut Shell<'_>) -> Result<Exit, Fail> {
    let table = args.agreed.table()?;
    let leaves = args.ask.iter().map(|leaf| AgreedArgs::leaf(leaf, &table)).collect::<Result<Vec<_>, _>>()?;
    let mut sources =
        args.endpoints.iter().map(|spec| open(spec, args, &leaves)).collect::<Result<Vec<_>, _>>()?;
    let mut source = if sources.len() == 1 { sources.remove(0) } else { Box::new(Gather::new(sources)) };
    let mut roster = Roster::new();
    for (port, _) in args.endpoints.iter().enumerate() {
        let port = u16::try_from(port).unwrap_or(u16::MAX);
        leaves.iter().for_each(|leaf| roster.asks((port, Some(*leaf))));
    }
    let asking = PAUSE * u32::try_from(leaves.len() * ROUNDS + 4).unwrap_or(u32::MAX);
    let time = args.for_time.unwrap_or(LISTEN.max(asking));
    if source.is_live() {
        let names: Vec<_> = args.endpoints.iter().map(ToString::to_string).collect();
        let (names, time) = (names.join(", "), lines::time(time));
        shell.remark(format_args!("listening to {names} for {time}; Ctrl-C ends it with the list"));
    }
    follow(args, source.as_mut(), time, &mut roster, shell)?;
    show(args, source.ports(), &roster, &table, shell)
}

fn open(spec: &EndpointSpec, args: &RosterArgs, leaves: &[u8]) -> Result<Box<dyn Source>, Fail> {
    let wiring = wiring_of(spec, &args.line);
    if leaves.is_empty() {
        let options = OpenOptions { line: args.line.settings(), loss: Loss::Wait, wiring: Some(wiring) };
        return listen(spec, &options);
    }
    let endpoint = open_endpoint(spec, &args.line, Loss::Wait)?;
    let round = leaves.iter().copied().cycle().take(leaves.len() * ROUNDS).collect();
    Ok(Box::new(Asking {
        endpoint,
        codec: codec(wiring),
        due: Instant::now(),
        round,
        said: VecDeque::new(),
        id: 0,
    }))
}

/// Takes in what comes until the time is over.
fn follow(
    args: &RosterArgs,
    source: &mut dyn Source,
    time: Duration,
    roster: &mut Roster,
    shell: &mut Shell<'_>,
) -> Result<(), Fail> {
    let mut tracker = Tracker::new(args.line.frame.wiring(crate::endpoint::Wiring::default()));
    let (start, live, mut known, mut first) = (Instant::now(), source.is_live(), 0, None);
    while !shell.stop.is_set() && (!live || start.elapsed() < time) {
        let item = match source.next(NAP)? {
            Some(Item::End) => break,
            Some(item) => item,
            None => continue,
        };
        if let (Some(at), false) = (item.at(), live) {
            let first = *first.get_or_insert(at);
            if args.for_time.is_some() && u128::from(at.saturating_sub(first)) >= time.as_nanos() {
                break;
            }
        }
        for (index, port) in source.ports().iter().enumerate().skip(known) {
            let wiring = args.line.frame.wiring(port.wiring.unwrap_or_default());
            tracker.set_wiring(u16::try_from(index).unwrap_or(u16::MAX), wiring);
        }
        known = source.ports().len();
        tracker.item(item, &mut |record| roster.record(&record));
        if live && args.for_time.is_none() && are_all_heard(roster, args) {
            break;
        }
    }
    if live {
        roster.until(clock::now());
    } else if let Some(now) = roster.now() {
        roster.until(now);
    }
    Ok(())
}

/// Milliseconds after which a board counts as not heard.
fn limit(args: &RosterArgs) -> u32 {
    u32::try_from(args.limit.as_millis()).unwrap_or(u32::MAX)
}

/// Whether every leaf that was asked has been heard, on one port at least.
fn are_all_heard(roster: &Roster, args: &RosterArgs) -> bool {
    !args.ask.is_empty()
        && roster
            .rows()
            .all(|((_, leaf), row)| !row.is_asked || is_heard_somewhere(roster, leaf, limit(args)))
}

fn is_heard_somewhere(roster: &Roster, leaf: Option<u8>, limit: u32) -> bool {
    roster.rows().any(|((_, other), row)| other == leaf && row.how(limit) != How::Never)
}

fn show(
    args: &RosterArgs,
    ports: &[PortInfo],
    roster: &Roster,
    table: &Table,
    shell: &mut Shell<'_>,
) -> Result<Exit, Fail> {
    let limit = limit(args);
    // A leaf that was asked on every port and is heard on one is missing on none.
    let is_elsewhere =
        |(place, how): (Place, How)| how == How::Never && is_heard_somewhere(roster, place.1, limit);
    let rows = roster.rows().map(|(place, row)| (place, row, row.how(limit)));
    let rows: Vec<_> = rows.filter(|(place, _, how)| !is_elsewhere((*place, *how))).collect();
    let mut shown = None;
    for (place, row, how) in &rows {
        if args.json {
            shell.line(record(*place, row, *how, roster.now(), table))?;
            continue;
        }
        if shown != Some(place.0) {
            if ports.len() > 1 {
                let name = ports.get(usize::from(place.0)).map_or("", |port| port.name.as_str());
                shell.line(format_args!("port {}: {}", place.0, harmless(name)))?;
            }
            shell.line(
                "address board       identity          session     heard     dBm in/out   lost in/out",
            )?;
            shown = Some(place.0);
        }
        for line in text(*place, row, *how, roster.now(), table) {
            shell.line(line)?;
        }
    }
    if rows.is_empty() {
        shell.remark(
            "nobody was heard; with --ask LEAF a leaf is asked, and --framing must be that of the line",
        );
    }
    let all_well = !rows.is_empty() && rows.iter().all(|(_, row, how)| !row.is_asked || *how != How::Never);
    Ok(if all_well { Exit::Good } else { Exit::NotGood })
}

/// What the board is called: nothing where it has no address.
fn name(place: Place, table: &Table) -> String {
    place.1.map_or_else(String::new, |address| table.who(address))
}

/// ns since it was last heard.
fn ago(row: &Row, now: Option<u64>) -> Option<u64> {
    Some(now?.saturating_sub(row.last?))
}

/// A row, and below it what does not work.
fn text(place: Place, row: &Row, how: How, now: Option<u64>, table: &Table) -> Vec<String> {
    let dash = || "-".to_owned();
    let dbm = |strength: Option<i16>| strength.map_or_else(dash, |dbm| dbm.to_string());
    let address = place.1.map_or_else(dash, |address| address.to_string());
    let identity = row.identities.last().map_or_else(dash, |identity| format!("{identity:016x}"));
    let session = row.session.map_or_else(dash, |session| format!("{session:05x}"));
    let heard = match ago(row, now) {
        Some(ns) => format!("{}.{} s ago", ns / 1_000_000_000, ns / 100_000_000 % 10),
        None if row.frames > 0 => format!("{} frames", row.frames),
        None => dash(),
    };
    let lost_out = row.lost_out().map_or_else(dash, |lost| lost.to_string());
    let mut out = vec![format!(
        "{address:>7} {:<11} {identity:<17} {session:<7} {heard:>12} {:>6} /{:>4} {:>5} / {lost_out}",
        lines::fit(&harmless(&name(place, table)), 11),
        dbm(row.strength_in()),
        dbm(row.strength_out()),
        row.lost_in(),
    )];
    let mut says = vec![how.text().to_owned()];
    if let [before @ .., _] = row.identities.as_slice()
        && !before.is_empty()
    {
        let before: Vec<_> = before.iter().map(|identity| format!("{identity:016x}")).collect();
        says.push(format!("TWO BOARDS on this address, or one was replaced: also {}", before.join(", ")));
    }
    if row.is_asked && how == How::Never {
        says.push("it was asked and did not answer: it sleeps, is out of range, or is not there".to_owned());
    }
    out.push(lines::wrap("        ", &says.join("; ")));
    out
}

fn record(place: Place, row: &Row, how: How, now: Option<u64>, table: &Table) -> serde_json::Value {
    let mut leaf = serde_json::json!({
        "record": "leaf",
        "port": place.0,
        "frames": row.frames,
        "lost_in": row.lost_in(),
        "asked": row.is_asked,
        "how": how.word(),
    });
    let mut put = |key: &str, value: Option<serde_json::Value>| {
        if let Some(value) = value {
            leaf[key] = value;
        }
    };
    put("address", place.1.map(Into::into));
    put("board", place.1.map(|_| name(place, table).into()));
    let hex = |identity: &u64| serde_json::Value::from(format!("{identity:016x}"));
    put("identity", row.identities.last().map(hex));
    let before = row.identities.split_last().map_or(&[][..], |(_, before)| before);
    put("others", (!before.is_empty()).then(|| before.iter().map(hex).collect::<Vec<_>>().into()));
    put("session", row.session.map(Into::into));
    let mut moment = Vec::new();
    if let Some(last) = row.last {
        moment.extend(report::moment_text(last).into_bytes());
    }
    put("last", row.last.map(|_| String::from_utf8_lossy(&moment).into_owned().into()));
    put("ago_ms", ago(row, now).map(|ns| (ns / 1_000_000).into()));
    put("strength_in", row.strength_in().map(Into::into));
    put("strength_out", row.strength_out().map(Into::into));
    put("lost_out", row.lost_out().map(Into::into));
    leaf
}

/// An endpoint on which leaves are asked for a sign of life (W-48), one after the other.
struct Asking {
    endpoint: Box<dyn Endpoint>,
    codec: Box<dyn Codec>,
    due: Instant,
    round: VecDeque<u8>,
    said: VecDeque<Item>,
    id: u16,
}

impl Asking {
    fn ask(&mut self, leaf: u8) -> Result<(), Fail> {
        self.id = self.id.wrapping_add(1);
        let header = Header {
            extension: Some(Extension::Probe),
            addresses: Some(Addresses { to: leaf, from: 0 }),
            ..Header::new(Kind::Extended)
        };
        let octets = self.codec.encode(&self.codec.frame(&header, &self.id.to_le_bytes()));
        self.endpoint.write(&octets)?;
        self.said.push_back(Item::Chunk(Chunk {
            at: clock::now(),
            port: 0,
            direction: Direction::Out,
            octets,
        }));
        Ok(())
    }
}

impl Source for Asking {
    fn next(&mut self, wait: Duration) -> Result<Option<Item>, Fail> {
        if let Some(item) = self.said.pop_front() {
            return Ok(Some(item));
        }
        let left = self.due.saturating_duration_since(Instant::now());
        if left.is_zero() && self.endpoint.present() {
            self.due = Instant::now() + PAUSE;
            if let Some(leaf) = self.round.pop_front() {
                self.ask(leaf)?;
            }
        }
        self.endpoint.next(if left.is_zero() { wait } else { wait.min(left) })
    }

    fn ports(&self) -> &[PortInfo] {
        self.endpoint.ports()
    }
}
