//! A test of the tests: each reject, each event, each outcome and each exit code is produced by a vector or a test.

use bellwire::{
    fcs::Fcs16,
    frame::{Class, Reject},
    framing::Cobs,
    link::{Config, Event, OwnNumber},
    time::{Duration, Instant},
};
use bellwire_cli::exit::Exit;
use bellwire_tests::{
    session::Script,
    tool::root,
    vector::{self, Rejected},
};
use serde_json::Value;
use std::{collections::BTreeSet, path::Path};

type Link = bellwire::link::Link<Cobs, Fcs16, 64, 1, 4>;

/// Every event that the scripts and conversations tell, with what the event says of itself.
fn told() -> BTreeSet<String> {
    let scripts = vector::read::<Script>("sessions")
        .into_iter()
        .flat_map(|script| script.steps)
        .flat_map(|step| step.tells);
    let conversations: Vec<Value> = vector::read("conversations");
    let steps = conversations
        .iter()
        .flat_map(|conversation| conversation["steps"].as_array().cloned().unwrap_or_default());
    let mut told = BTreeSet::new();
    for event in scripts.chain(steps) {
        for field in ["event", "outcome", "reason", "reject"] {
            if let Some(text) = event[field].as_str() {
                told.insert(format!("{field} {text}"));
            }
        }
    }
    told
}

#[test]
fn each_reject_is_produced() {
    let told = told();
    let rejected: BTreeSet<String> =
        vector::read::<Rejected>("rejects").into_iter().map(|vector| vector.reject).collect();
    // What no vector can show: the receiver's queue is never full in a script that drains it.
    let elsewhere = [(Reject::NoRoom, "core", "Reject::NoRoom")];
    for reject in Reject::ALL {
        let shown = rejected.contains(reject.name()) || told.contains(&format!("reject {}", reject.name()));
        let tested = elsewhere.iter().any(|(other, folder, word)| *other == reject && in_tests(folder, word));
        assert!(shown || tested, "{reject:?}: produced by no vector and no test");
    }
}

#[test]
fn each_event_and_outcome_is_produced() {
    let told = told();
    for event in
        ["opened", "quiet", "resumed", "ended", "mismatch", "message", "outcome", "resent", "text", "refused"]
    {
        assert!(told.contains(&format!("event {event}")), "{event}");
    }
    for outcome in ["delivered", "not sent", "unknown"] {
        assert!(told.contains(&format!("outcome {outcome}")), "{outcome}");
    }
    for reason in ["peer restarted", "silence", "mismatch"] {
        assert!(told.contains(&format!("reason {reason}")), "{reason}");
    }
}

/// The place of an event among all of them: a new one does not compile here before the test below produces it.
const fn place(event: &Event<'_>) -> usize {
    match event {
        Event::Opened(_) => 0,
        Event::Quiet => 1,
        Event::Resumed => 2,
        Event::Ended(_) => 3,
        Event::Mismatch { .. } => 4,
        Event::Message(_) => 5,
        Event::Outcome { .. } => 6,
        Event::Resent { .. } => 7,
        Event::Text(_) => 8,
        Event::Refused(_) => 9,
        Event::ProbeAnswer { .. } => 10,
        Event::PeerStatistics(_) => 11,
    }
}

/// Two links joined by a wire without delay, and how often each event was told.
struct Pair {
    now: Instant,
    links: [Link; 2],
    /// Nothing comes from the first to the second.
    cut: bool,
    told: [u32; 12],
}

impl Pair {
    fn new(fingerprints: [u32; 2]) -> Self {
        let now = Instant::from_ticks(0);
        let link = |fingerprint| {
            let keep_alive = Duration::from_ticks(100_000);
            let config = Config { fingerprint, keep_alive, ..Config::stream(OwnNumber::Stored(fingerprint)) };
            Link::new(Cobs, config, now)
        };
        Self { now, links: fingerprints.map(link), cut: false, told: [0; 12] }
    }

    /// The first link hears these octets.
    fn hear(&mut self, octets: &[u8]) {
        let [link, _] = &mut self.links;
        take(link, self.now, octets, &mut self.told);
    }

    /// What both say in this many steps of ten milliseconds.
    fn run(&mut self, steps: u32) {
        for _ in 0..steps {
            self.now += Duration::from_ticks(10_000);
            let [first, second] = &mut self.links;
            say(first, second, self.now, self.cut, &mut self.told);
            say(second, first, self.now, false, &mut self.told);
        }
    }
}

/// One link does what is due and sends all it has; the other takes it, unless the wire is cut.
fn say(from: &mut Link, to: &mut Link, now: Instant, cut: bool, told: &mut [u32; 12]) {
    from.handle_timeout(now);
    drain(from, told);
    let mut wire = [0; 128];
    while let Some(len) = from.poll_transmit(now, &mut wire) {
        if !cut {
            take(to, now, &wire[..len], told);
        }
    }
}

fn take(link: &mut Link, now: Instant, mut octets: &[u8], told: &mut [u32; 12]) {
    while !octets.is_empty() {
        octets = &octets[link.handle_octets(now, octets)..];
        drain(link, told);
    }
}

fn drain(link: &mut Link, told: &mut [u32; 12]) {
    while let Some(event) = link.poll_event() {
        told[place(&event)] += 1;
    }
}

#[test]
fn two_links_tell_every_event_there_is() {
    let mut pair = Pair::new([7, 7]);
    pair.run(50);
    let now = pair.now;
    pair.links[0].probe(now, 1, &[]).expect("room for a probe");
    pair.links[0].ask_statistics(now);
    pair.links[0].send(now, Class::Errand, &[1, 2, 3]).expect("room in the queue");
    pair.hear(b"a console\r\n\0");
    pair.hear(&[0, 0x03, 0x80, 0x81, 0xFF, 0xFE, 0]);
    pair.run(50);
    pair.cut = true;
    let now = pair.now;
    pair.links[0].send(now, Class::Errand, &[1, 2, 3]).expect("room in the queue");
    pair.run(20);
    pair.cut = false;
    pair.run(100);
    let now = pair.now;
    pair.links[1].close(now);
    pair.run(1);
    let mut strangers = Pair::new([7, 8]);
    strangers.run(50);
    let told: Vec<_> = pair.told.iter().zip(strangers.told).map(|(one, other)| one + other).collect();
    assert!(told.iter().all(|&count| count > 0), "by place, {told:?}");
}

/// The tool's own test of its exit codes goes through all that there are; this one sees that none was left out of it.
#[test]
fn each_exit_code_is_produced() {
    let test = std::fs::read_to_string(root().join("host-cli/tests/talk/exits.rs")).expect("readable");
    for exit in Exit::ALL {
        assert!(test.contains(&format!("(Exit::{exit:?}, ")), "no process ends with {exit:?}");
    }
}

/// Whether a test below this folder names the word.
fn in_tests(folder: &str, word: &str) -> bool {
    let mut files = Vec::new();
    collect(&root().join(folder), &mut files);
    files.iter().any(|text| text.contains("#[test]") && text.contains(word))
}

fn collect(folder: &Path, files: &mut Vec<String>) {
    for entry in std::fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            collect(&path, files);
        } else if path.extension().is_some_and(|ending| ending == "rs" || ending == "py") {
            files.push(std::fs::read_to_string(&path).expect("readable"));
        }
    }
}
