//! What single counts do not show, on links of one network that differ in one number each: how long bursts of loss last, what overtakes what,
//! how long a datagram takes, and when boards restart.

#![allow(clippy::cast_possible_truncation, reason = "bins of small numbers")]

use crate::chi::{assert_even, assert_fits, assert_geometric, assert_odds};
use bellwire_cli::sim::{
    Action, Carries, Faults, LineId, Moment, Network, Node, NodeId, Plug, Seed, Seen, Setup, Spell,
};
use core::time::Duration;

const WRITES: u64 = 40_000;
const PAUSE: Duration = Duration::from_millis(2);

/// Writes its numbers, one every 2 ms, or listens on any number of ports; counts its restarts.
#[derive(Default)]
struct Counter {
    ports: usize,
    writes: u64,
    next: u64,
    ready: bool,
    restarts: u64,
}

impl Node for Counter {
    fn ports(&self) -> usize {
        self.ports
    }
    fn arrived(&mut self, _now: Moment, _port: usize, _octets: &[u8]) {}
    fn woken(&mut self, _now: Moment) {
        self.next += 1;
        self.ready = true;
    }
    fn transmit(&mut self, _now: Moment, _port: usize, _unsent: usize, out: &mut Vec<u8>) -> bool {
        if core::mem::take(&mut self.ready) {
            out.extend((self.next - 1).to_le_bytes());
        }
        !out.is_empty()
    }
    fn wake(&self) -> Option<Moment> {
        (self.next < self.writes).then(|| written(self.next))
    }
    fn restart(&mut self, _now: Moment) {
        self.restarts += 1;
    }
}

/// When a number is written.
fn written(number: u64) -> Moment {
    Moment::from_millis(2 * number)
}

/// A radio with so many octets a second that a number takes 8 µs.
fn radio(faults: Faults) -> Setup {
    Setup { carries: Carries::Datagrams, ..Setup::uart(10_000_000).with(faults) }
}

const AIRTIME: Duration = Duration::from_micros(8);

/// A link from a writer of its own for each set-up; gives of each the numbers that arrived, in their order, and when.
fn arrivals(name: &str, setups: &[Setup]) -> Vec<Vec<(u64, Moment)>> {
    let mut network = Network::new(Seed(bellwire_tests::seed(name).value()));
    let listener = network.add(Counter { ports: setups.len(), ..Counter::default() });
    for (port, setup) in setups.iter().enumerate() {
        let from = network.add(Counter { ports: 1, writes: WRITES, ..Counter::default() });
        network.connect(Plug::of(from), Plug { node: listener, port }, setup.clone()).unwrap();
    }
    let mut arrived = vec![Vec::new(); setups.len()];
    network
        .run(Moment::from_millis(10_000_000), &mut |now, seen| {
            if let Seen::Arrived { line: LineId(line), octets } = seen {
                arrived[line].push((u64::from_le_bytes(octets.try_into().expect("a number")), now));
            }
        })
        .unwrap();
    arrived
}

#[test]
fn bursts_of_loss_and_the_gaps_between_them_have_geometric_lengths_on_each_link() {
    let spells = [(0.02, 0.2), (0.05, 0.5), (0.1, 0.05), (0.0, 0.5)];
    let setups = spells
        .map(|(begin, end)| radio(Faults { spell: Some(Spell { begin, end, spoil: 1.0 }), ..Faults::NONE }));
    let name = "bursts_of_loss_and_the_gaps_between_them_have_geometric_lengths_on_each_link";
    for ((begin, end), arrived) in spells.into_iter().zip(arrivals(name, &setups)) {
        let mut came = vec![false; usize::try_from(WRITES).unwrap()];
        arrived.iter().for_each(|(number, _)| came[usize::try_from(*number).unwrap()] = true);
        let runs: Vec<&[bool]> = came.chunk_by(|one, next| one == next).collect();
        if begin == 0.0 {
            assert_eq!((runs.len(), came[0]), (1, true), "nothing is lost where nothing begins");
            continue;
        }
        // The first run begins before the first number, and the last one is cut off.
        let whole = &runs[1..runs.len() - 1];
        let of = |good: bool| {
            whole.iter().filter(|run| run[0] == good).map(|run| run.len() as u64).collect::<Vec<_>>()
        };
        assert_geometric(&format!("bursts, {begin} {end}"), &of(false), end);
        assert_geometric(&format!("gaps, {begin} {end}"), &of(true), begin);
    }
}

/// With lateness X, which is 0 or, with odds q, even in 0..D, a datagram is overtaken by the next one, written d later, when X > X' + d:
/// with odds q (1 - q) (1 - d/D) + q² (1 - d/D)² / 2.
#[test]
fn datagrams_overtake_at_the_odds_of_their_lateness_on_each_link() {
    let kinds = [(0.1, 80), (0.5, 4), (1.0, 10), (0.3, 2), (0.0, 80)];
    let setups = kinds.map(|(late, millis)| {
        let late_by = Duration::from_millis(millis);
        radio(Faults { late, late_by, ..Faults::NONE })
    });
    let name = "datagrams_overtake_at_the_odds_of_their_lateness_on_each_link";
    for ((late, millis), arrived) in kinds.into_iter().zip(arrivals(name, &setups)) {
        let mut place = vec![0; usize::try_from(WRITES).unwrap()];
        arrived
            .iter()
            .enumerate()
            .for_each(|(at, (number, _))| place[usize::try_from(*number).unwrap()] = at);
        // Pairs that share no datagram, so that one says nothing about the next.
        let overtaken = place.chunks_exact(2).filter(|pair| pair[0] > pair[1]).count() as u64;
        let part = 1.0 - PAUSE.as_secs_f64() / Duration::from_millis(millis).as_secs_f64();
        let odds = late * (1.0 - late) * part + late * late * part * part / 2.0;
        if odds > 0.0 {
            assert_odds(&format!("overtaken, {late} by {millis} ms"), overtaken, WRITES / 2, odds);
        } else {
            assert_eq!(overtaken, 0, "{late} by {millis} ms");
        }
    }
}

#[test]
fn every_datagram_takes_the_delay_of_its_own_link_to_the_nanosecond() {
    let delays = [0, 1, 250, 7_654_321, 40_000_000].map(Duration::from_nanos);
    let setups = delays.map(|delay| Setup { delay, ..radio(Faults { lose: 0.2, ..Faults::NONE }) });
    let name = "every_datagram_takes_the_delay_of_its_own_link_to_the_nanosecond";
    for (delay, arrived) in delays.into_iter().zip(arrivals(name, &setups)) {
        assert_odds(&format!("lost beside {delay:?}"), WRITES - arrived.len() as u64, WRITES, 0.2);
        for (number, at) in arrived {
            assert_eq!(at.since(written(number)), AIRTIME + delay);
        }
    }
}

#[test]
fn boards_restart_at_their_own_rate_and_those_without_one_never() {
    let means = [Some(10), Some(100), Some(1_000), None].map(|millis| millis.map(Duration::from_millis));
    let end = Moment::from_millis(5_000_000);
    let name = "boards_restart_at_their_own_rate_and_those_without_one_never";
    let seed = Seed(bellwire_tests::seed(name).value());
    let mut network = Network::new(seed);
    for (mean, part) in means.iter().zip(50..) {
        let node = network.add(Counter { ports: 1, ..Counter::default() });
        let mut dice = seed.stream(part);
        if let Some(mean) = *mean {
            network.script().restart_at_random(node, mean, Moment::START..end, &mut dice);
        }
    }
    let mut times = vec![Vec::new(); means.len()];
    network
        .run(Moment::from_millis(10_000_000), &mut |now, seen| {
            if let Seen::Done(Action::Restart(NodeId(node))) = seen {
                times[node].push(now);
            }
        })
        .unwrap();
    for ((mean, times), node) in means.into_iter().zip(&times).zip(0..) {
        assert_eq!(network.node(NodeId(node)).restarts, times.len() as u64);
        let Some(mean) = mean else {
            assert!(times.is_empty());
            continue;
        };
        assert!(times.last().is_some_and(|last| *last < end), "none later than asked for");
        let what = format!("restarts, one in {mean:?}");
        // Of a Poisson count the variance is the mean.
        let expected = end.since(Moment::START).as_secs_f64() / mean.as_secs_f64();
        let count = times.len() as f64;
        assert!((count - expected).powi(2) / expected < 23.93, "{what}: {count}, expected {expected}");
        // The pauses, by the eighths of their distribution.
        let mut eighths = [0; 8];
        for pair in times.windows(2) {
            let pause = pair[1].since(pair[0]).as_secs_f64() / mean.as_secs_f64();
            eighths[((1.0 - (-pause).exp()) * 8.0) as usize] += 1;
        }
        assert_even(&what, eighths);
        // And the eighths of the run have as many each, so that the rate does not change.
        let mut parts = [0; 8];
        times.iter().for_each(|at| parts[(at.nanos() * 8 / end.nanos()) as usize] += 1);
        assert_even(&what, parts);
    }
}

#[test]
fn pauses_drawn_from_the_dice_are_exponential() {
    let name = "pauses_drawn_from_the_dice_are_exponential";
    let mut dice = Seed(bellwire_tests::seed(name).value()).stream(0);
    // Bins of a half each up to 4: two draws in three pass into the second round of the method.
    let edges = (0..8).map(|half| f64::from(half) / 2.0).collect::<Vec<_>>();
    let mut counts = [0; 8];
    for _ in 0..100_000 {
        counts[((dice.exponential() * 2.0) as usize).min(7)] += 1;
    }
    let expected: Vec<f64> = edges
        .iter()
        .map(|&edge| 1e5 * ((-edge).exp() - if edge < 3.5 { (-edge - 0.5_f64).exp() } else { 0.0 }))
        .collect();
    assert_fits("exponential", &counts, &expected);
}
