//! Each line of one network has the faults it was given, each at its rate, and no other; and what befalls one line says nothing about
//! the next.

use crate::chi::assert_odds;
use bellwire_cli::sim::{
    Carries, Counted, Faults, LineId, Moment, Network, Node, NodeId, Plug, Seed, Seen, Setup, Spell, profile,
};
use core::time::Duration;

const WRITES: u64 = 40_000;
const LENGTH: u64 = 16;
const PAUSE: Duration = Duration::from_millis(2);

/// Writes 16 octets every 2 ms to port 0, or listens on any number of ports.
struct Talker {
    ports: usize,
    left: u64,
    due: Moment,
    waiting: bool,
}

impl Node for Talker {
    fn ports(&self) -> usize {
        self.ports
    }
    fn arrived(&mut self, _now: Moment, _port: usize, _octets: &[u8]) {}
    fn woken(&mut self, now: Moment) {
        self.due = now.plus(PAUSE);
        self.left -= 1;
        self.waiting = true;
    }
    fn transmit(&mut self, _now: Moment, _port: usize, _unsent: usize, out: &mut Vec<u8>) -> bool {
        out.extend(core::mem::take(&mut self.waiting).then_some([0xA5; 16]).into_iter().flatten());
        !out.is_empty()
    }
    fn wake(&self) -> Option<Moment> {
        (self.left > 0).then_some(self.due)
    }
}

/// A line from a talker of its own to one listener for each set-up, all run to their end.
fn network(name: &str, setups: &[Setup], see: &mut impl FnMut(Moment, Seen<'_>)) -> Vec<Counted> {
    let mut network = Network::new(Seed(bellwire_tests::seed(name).value()));
    let listener = network.add(Talker { ports: setups.len(), left: 0, due: Moment::START, waiting: false });
    let lines: Vec<LineId> = setups
        .iter()
        .enumerate()
        .map(|(port, setup)| {
            let from: NodeId =
                network.add(Talker { ports: 1, left: WRITES, due: Moment::START, waiting: false });
            network.connect(Plug::of(from), Plug { node: listener, port }, setup.clone()).unwrap()
        })
        .collect();
    network.run(Moment::from_millis(10_000_000), see).unwrap();
    lines.into_iter().map(|line| network.counted(line)).collect()
}

fn uart(faults: Faults) -> Setup {
    Setup { carries: Carries::Octets { level: 64 }, ..Setup::uart(115_200).with(faults) }
}

fn radio(faults: Faults) -> Setup {
    Setup { carries: Carries::Datagrams, ..uart(faults) }
}

/// Asserts that every fault came at its odds, and those with odds of zero not at all.
fn assert_faults(what: &str, setup: &Setup, counted: Counted) {
    let Faults { drop, flip, double, insert, lose, copy, late, spell, .. } = setup.faults;
    let spell = spell.unwrap_or(Spell { begin: 0.0, end: 0.0, spoil: 0.0 });
    let is_radio = setup.carries == Carries::Datagrams;
    // What a line that loses whole writes still carries; what became of a spoilt datagram is not counted apart.
    let landed = counted.octets - counted.lost * LENGTH;
    let kept = landed - counted.dropped;
    let arrived = counted.arrived / LENGTH;
    let weather = if is_radio { counted.writes } else { landed };
    let faults = [
        ("dropped", counted.dropped, landed, drop),
        ("flipped", counted.flipped, if is_radio { counted.arrived } else { kept }, flip),
        ("doubled", counted.doubled, kept, double),
        ("inserted", counted.inserted, kept, insert),
        ("lost", counted.lost, counted.writes, lose),
        ("copied", counted.copied, arrived.saturating_sub(counted.copied), copy),
        ("late", counted.late, arrived, late),
        ("begins of spells", counted.spells, weather - counted.in_spell, spell.begin),
        ("ends of spells", counted.spells, counted.in_spell, spell.end),
        ("spoilt", counted.spoilt, counted.in_spell, spell.spoil),
    ];
    for (fault, hits, trials, odds) in faults {
        if odds > 0.0 && odds < 1.0 {
            assert_odds(&format!("{what}: {fault}"), hits, trials, odds);
        } else {
            assert_eq!(hits, if odds == 0.0 { 0 } else { trials }, "{what}: {fault}");
        }
    }
    assert_eq!((counted.writes, counted.octets), (WRITES, WRITES * LENGTH), "{what}");
    let elsewhere = [counted.cut, counted.drowned, counted.stuck, counted.overflowed];
    assert_eq!(elsewhere, [0; 4], "{what}: what only a script does");
}

#[test]
fn each_line_of_a_network_has_its_own_fault_and_no_other() {
    let spell = Some(Spell { begin: 0.01, end: 0.04, spoil: 0.5 });
    let octets = [
        ("none", Faults::NONE),
        ("drop", Faults { drop: 0.01, ..Faults::NONE }),
        ("flip", Faults { flip: 0.02, ..Faults::NONE }),
        ("double", Faults { double: 0.03, ..Faults::NONE }),
        ("insert", Faults { insert: 0.04, ..Faults::NONE }),
        ("lose", Faults { lose: 0.05, ..Faults::NONE }),
        ("spell", Faults { spell, ..Faults::NONE }),
    ];
    let late_by = Duration::from_millis(50);
    let datagrams = [
        ("none", Faults::NONE),
        ("flip", Faults { flip: 0.02, ..Faults::NONE }),
        ("lose", Faults { lose: 0.05, ..Faults::NONE }),
        ("copy", Faults { copy: 0.06, ..Faults::NONE }),
        ("late", Faults { late: 0.07, late_by, ..Faults::NONE }),
        ("spell", Faults { spell, ..Faults::NONE }),
    ];
    let wires = octets.map(|(name, faults)| (format!("wire, {name}"), uart(faults)));
    let radios = datagrams.map(|(name, faults)| (format!("radio, {name}"), radio(faults)));
    let (names, setups): (Vec<_>, Vec<_>) = wires.into_iter().chain(radios).unzip();
    let name = "each_line_of_a_network_has_its_own_fault_and_no_other";
    let counts = network(name, &setups, &mut |_, _| {});
    for ((name, setup), counted) in names.iter().zip(&setups).zip(counts) {
        assert_faults(name, setup, counted);
    }
}

#[test]
fn all_faults_of_a_named_profile_come_together_each_at_its_rate() {
    let setups = profile::ALL.map(|(name, faults)| match name {
        "field" | "crowd" => radio(faults),
        _ => uart(faults),
    });
    let name = "all_faults_of_a_named_profile_come_together_each_at_its_rate";
    let counts = network(name, &setups, &mut |_, _| {});
    for (((name, _), setup), counted) in profile::ALL.iter().zip(&setups).zip(counts) {
        assert_faults(name, setup, counted);
    }
}

#[test]
fn what_is_lost_on_one_line_says_nothing_about_the_next() {
    const LOSE: f64 = 0.3;
    let setups = [0; 4].map(|_| radio(Faults { lose: LOSE, ..Faults::NONE }));
    let mut arrived = vec![[false; 4]; usize::try_from(WRITES).unwrap()];
    let name = "what_is_lost_on_one_line_says_nothing_about_the_next";
    network(name, &setups, &mut |now, seen| {
        if let Seen::Arrived { line: LineId(line), .. } = seen {
            // All talkers write at the same moments, and each write is there before the next.
            arrived[usize::try_from(u128::from(now.nanos()) / PAUSE.as_nanos()).unwrap()][line] = true;
        }
    });
    for one in 0..4 {
        for other in one + 1..4 {
            let both = arrived.iter().filter(|write| !write[one] && !write[other]).count() as u64;
            assert_odds(&format!("lines {one} and {other}: both lost"), both, WRITES, LOSE * LOSE);
        }
        // Nor does a loss say anything about the next write on the same line.
        let pairs = arrived.chunks_exact(2);
        let next = pairs.filter(|pair| pair.iter().all(|write| !write[one])).count() as u64;
        assert_odds(&format!("line {one}: two in a row"), next, WRITES / 2, LOSE * LOSE);
    }
}
