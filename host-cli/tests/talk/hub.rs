//! `log --hub`: the tool as the hub of a star, with other processes of the tool and a leaf of the core as its leaves.

use std::{
    net::UdpSocket,
    time::{Duration, Instant},
};

use bellwire::{
    fcs::Fcs16,
    frame::{Class, ResetCause},
    framing::{Datagram, Lead},
    link::{Config, Event, Outcome, OwnNumber},
    star::{
        Address, Arriving, ArrivingConfig, ArrivingOutcome, Leaf, LeafConfig, LeafEvent, RelayStep, Relaying,
    },
    time::Instant as Tick,
};

use crate::tool::{HANGS, Tool, run};

const LOCAL: &str = "127.0.0.1:0";

/// A medium that carries each datagram of one to all others. Gives the endpoint of each.
pub(crate) fn medium(count: usize) -> Vec<[u16; 2]> {
    let ports: Vec<[UdpSocket; 2]> =
        (0..count).map(|_| [LOCAL; 2].map(|any| UdpSocket::bind(any).unwrap())).collect();
    let number = |socket: &UdpSocket| socket.local_addr().unwrap().port();
    let numbers: Vec<_> = ports.iter().map(|[theirs, own]| [number(theirs), number(own)]).collect();
    let theirs: Vec<_> = ports.into_iter().map(|[theirs, _]| theirs).collect();
    for from in 0..count {
        let theirs: Vec<_> = theirs.iter().map(|socket| socket.try_clone().unwrap()).collect();
        let numbers = numbers.clone();
        std::thread::spawn(move || {
            let mut buffer = [0; 2048];
            // Nobody may be there yet: the system tells that as an error of a later call.
            loop {
                let Ok(len) = theirs[from].recv(&mut buffer) else { continue };
                for to in (0..numbers.len()).filter(|to| *to != from) {
                    let _ = theirs[to].send_to(&buffer[..len], ("127.0.0.1", numbers[to][1]));
                }
            }
        });
    }
    numbers
}

pub(crate) fn endpoint([theirs, own]: [u16; 2]) -> String {
    format!("udp:127.0.0.1:{theirs}@{own}")
}

/// A board in the field, of the core's parts: it asks for an address, and sleeps.
struct Gauge {
    socket: UdpSocket,
    start: Instant,
    leaf: Leaf<Datagram>,
    relaying: Relaying<2>,
    outcomes: Vec<Outcome>,
    steps: Vec<RelayStep>,
}

impl Gauge {
    fn new([theirs, own]: [u16; 2]) -> Self {
        let socket = UdpSocket::bind(("127.0.0.1", own)).unwrap();
        socket.connect(("127.0.0.1", theirs)).unwrap();
        socket.set_read_timeout(Some(Duration::from_millis(5))).unwrap();
        let link = Config::datagram(0, bellwire::time::Duration::from_millis(200), OwnNumber::Random(0x5EED));
        let keep_alive = bellwire::time::Duration::from_millis(0);
        let link = Config { identity: 0x6A06E, keep_alive, ..link };
        let config = LeafConfig { awake: 300, ..LeafConfig::new(link, Address::Asked) };
        let leaf = Leaf::new(Datagram, config, Tick::from_ticks(0));
        let relaying = Relaying::new();
        Self { socket, start: Instant::now(), leaf, relaying, outcomes: vec![], steps: vec![] }
    }

    fn now(&self) -> Tick {
        Tick::from_ticks(u32::try_from(self.start.elapsed().as_micros()).unwrap())
    }

    /// Serves the leaf until this is so.
    fn until(&mut self, what: &str, is: impl Fn(&Self) -> bool) {
        let end = Instant::now() + HANGS;
        let mut buffer = [0; 2048];
        while !is(self) {
            assert!(Instant::now() < end, "{what} never came: {:?} {:?}", self.outcomes, self.steps);
            let now = self.now();
            self.leaf.handle_timeout(now);
            self.drain();
            while let Some(len) = self.leaf.poll_transmit(now, &mut buffer) {
                let _ = self.socket.send(&buffer[..len]);
            }
            if let Ok(len) = self.socket.recv(&mut buffer) {
                let _ = self.leaf.handle_octets(self.now(), &buffer[..len]);
                self.drain();
            }
        }
    }

    fn drain(&mut self) {
        while let Some(event) = self.leaf.poll_event() {
            let LeafEvent::Link(event) = event else { continue };
            if let Some(news) = self.relaying.handle_event(&event) {
                self.steps.push(news.step);
            } else if let Event::Outcome { outcome, .. } = event {
                self.outcomes.push(outcome);
            }
        }
        while let Some(news) = self.relaying.poll(self.now()) {
            self.steps.push(news.step);
        }
    }
}

fn json(line: &str) -> serde_json::Value {
    serde_json::from_str(line).unwrap()
}

#[test]
fn three_leaves_at_once_are_seated_opened_confirmed_and_relayed() {
    let ports = medium(4);
    let hub = endpoint(ports[0]);
    let mut log = Tool::start(&["log", &hub, "--hub", "--json", "--for", "60s"]);
    let porch = endpoint(ports[1]);
    let mut porch = Tool::start(&["peer", &porch, "--address", "porch", "--json"]);
    let mast = endpoint(ports[2]);
    let mut mast = Tool::start(&["peer", &mast, "--address", "mast", "--json"]);
    // Both are known by address, and have a session each.
    for tool in [&mut porch, &mut mast] {
        tool.line_with("\"opened\"");
    }
    let mut gauge = Gauge::new(ports[3]);
    gauge.until("a session", |gauge| gauge.leaf.peer().is_some());
    let note = json(&log.line(|line| line.contains("\"note\"") && line.contains("6a06e")));
    let text = note["text"].as_str().unwrap();
    // The first address that nobody has: 1. It says that it sleeps.
    assert!(text.contains("is on the roster: leaf 1; it sleeps, and listens for 300 ms"), "{text}");
    // A report of its own, message 10: log-line "rain".
    gauge.leaf.send(gauge.now(), Class::Report, &[77, 1]).unwrap();
    gauge.until("the outcome", |gauge| !gauge.outcomes.is_empty());
    assert_eq!(gauge.outcomes, [Outcome::Delivered]);
    // An errand to the porch, by way of the hub: the lamp at 40 %.
    let mut payload = [0; 16];
    let asked = gauge.relaying.ask(4, &[9, 40], &mut payload).unwrap();
    let ticket = gauge.leaf.send(gauge.now(), Class::Errand, &payload[..asked.len]).unwrap();
    let now = gauge.now();
    gauge.relaying.accepted(asked, ticket, now, bellwire::time::Duration::from_secs(20));
    gauge.until("the far outcome", |gauge| gauge.steps.contains(&RelayStep::Delivered));
    assert_eq!(gauge.steps, [RelayStep::Taken, RelayStep::Delivered]);
    let lamp = json(&porch.line_with("\"lamp\""));
    assert_eq!(lamp["values"]["level"], 40, "{lamp}");
    let out = json(&log.line(|line| line.contains("\"relayed\"") && line.contains("\"direction\":\"out\"")));
    assert_eq!((&out["relayed"]["other"], &out["name"]), (&1.into(), &"lamp".into()), "{out}");
    let ended = log.stop();
    assert_eq!(ended.code, Some(0), "{}", ended.err);
}

/// W-69: one frame, and its answer.
#[test]
fn a_leaf_without_storage_reports_in_one_frame() {
    let ports = medium(2);
    let mut log = Tool::start(&["log", &endpoint(ports[0]), "--hub", "--for", "60s"]);
    let socket = UdpSocket::bind(("127.0.0.1", ports[1][1])).unwrap();
    socket.connect(("127.0.0.1", ports[1][0])).unwrap();
    socket.set_read_timeout(Some(Duration::from_millis(20))).unwrap();
    let ms = bellwire::time::Duration::from_millis;
    let config = ArrivingConfig {
        address: 7,
        own: OwnNumber::Random(0xBEE),
        cause: ResetCause::Wake,
        fingerprint: 0,
        time_out: ms(200),
        tries: 200,
        span: ms(40_000),
        lifetime: ms(500),
        jitter_seed: 0,
    };
    let mut arriving = Arriving::<16>::new(&config, &[77, 1, 2]).unwrap();
    let (mut last, mut buffer) = (Instant::now(), [0; 256]);
    while arriving.outcome().is_none() {
        let passed = last.elapsed();
        last += passed;
        arriving.elapse(bellwire::time::Duration::from_ticks(u32::try_from(passed.as_micros()).unwrap()));
        let sent = arriving.poll_transmit::<Datagram, Fcs16>(&Datagram, Lead::Delimiter, ms(0), &mut buffer);
        if let Some(len) = sent {
            let _ = socket.send(&buffer[..len]);
        }
        if let Ok(len) = socket.recv(&mut buffer) {
            arriving.hear(&buffer[..len - 2]);
        }
    }
    assert_eq!(arriving.outcome(), Some(ArrivingOutcome::Delivered { more: false }));
    log.line_with("arrival");
}

#[test]
fn a_hub_on_a_stream_is_refused_with_what_to_do() {
    let ended = run(&["log", "/dev/null", "--hub"]);
    assert_eq!(ended.code, Some(2), "{}", ended.err);
    assert!(ended.err.contains("--framing radio-board") && ended.err.contains("--peer"), "{}", ended.err);
    let ended = run(&["log", "udp:127.0.0.1:9", "--hub", "--peer"]);
    assert_eq!(ended.code, Some(2), "{}", ended.err);
}
