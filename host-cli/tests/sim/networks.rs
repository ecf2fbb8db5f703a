//! The network: N nodes, equal runs from equal seeds, exact times, and no standstill.

use bellwire_cli::sim::{
    Action, Condition, Moment, Network, Node, NodeId, Plug, Seed, Seen, Setup, Stalled, profile,
};

/// Passes on what comes in at port 0 by port 1, one longer each time; the first one begins.
struct Relay {
    begins_at: Option<Moment>,
    waiting: Vec<Vec<u8>>,
    restarts: u32,
    acts: Vec<u32>,
}

impl Relay {
    fn new(begins: bool) -> Self {
        let begins_at = begins.then_some(Moment::START);
        Self { begins_at, waiting: Vec::new(), restarts: 0, acts: Vec::new() }
    }
}

impl Node for Relay {
    fn ports(&self) -> usize {
        2
    }
    fn arrived(&mut self, _now: Moment, port: usize, octets: &[u8]) {
        assert_eq!(port, 0);
        let mut longer = octets.to_vec();
        longer.push(0xA5);
        longer.truncate(100);
        self.waiting.push(longer);
    }
    fn woken(&mut self, now: Moment) {
        assert_eq!(self.begins_at.take(), Some(now));
        self.waiting.push(vec![1]);
    }
    fn transmit(&mut self, _now: Moment, port: usize, _unsent: usize, out: &mut Vec<u8>) -> bool {
        if port != 1 || self.waiting.is_empty() {
            return false;
        }
        out.extend(self.waiting.remove(0));
        true
    }
    fn wake(&self) -> Option<Moment> {
        self.begins_at
    }
    fn restart(&mut self, _now: Moment) {
        self.restarts += 1;
    }
    fn act(&mut self, _now: Moment, act: u32) {
        self.acts.push(act);
    }
}

fn ring(nodes: usize, seed: Seed, setup: &Setup) -> Network<Relay> {
    let mut network = Network::new(seed);
    for node in 0..nodes {
        network.add(Relay::new(node == 0));
    }
    for node in 0..nodes {
        let from = Plug { node: NodeId(node), port: 1 };
        let to = Plug { node: NodeId((node + 1) % nodes), port: 0 };
        network.connect(from, to, setup.clone()).unwrap();
    }
    network
}

/// All that an onlooker sees, in one text.
fn trace(seed: Seed, until: Moment) -> String {
    let mut network = ring(5, seed, &Setup::uart(115_200).with(profile::HOSTILE));
    network.script().add(Moment::from_millis(40), Action::Damage(bellwire_cli::sim::LineId(2), 1));
    let mut seen = String::new();
    network.run(until, &mut |now, what| seen.push_str(&format!("{now:?} {what:?}\n"))).unwrap();
    seen
}

#[test]
fn the_same_seed_gives_the_same_run_and_another_seed_another() {
    let until = Moment::from_millis(500);
    let runs: Vec<String> = (0..20).map(|seed| trace(Seed(seed), until)).collect();
    for (seed, run) in (0..).zip(&runs) {
        assert!(run == &trace(Seed(seed), until), "seed {seed}");
    }
    assert!(runs.windows(2).all(|pair| pair[0] != pair[1]));
}

#[test]
fn a_ring_of_any_size_takes_exactly_the_time_of_its_octets() {
    for nodes in [2, 3, 7, 50] {
        let mut network = ring(nodes, Seed(1), &Setup::uart(10_000_000));
        let mut hops = Vec::new();
        network
            .run(Moment::from_micros(120), &mut |now, seen| {
                if let Seen::Arrived { line, octets } = seen {
                    hops.push((now.nanos() / 1_000, line.0, octets.len()));
                }
            })
            .unwrap();
        // One octet longer at each hop, one microsecond an octet, in groups of 16 at most: up to then 1 + 2 + ... microseconds.
        for (hop, seen) in hops.iter().take(15).enumerate() {
            assert_eq!(*seen, ((hop as u64 + 1) * (hop as u64 + 2) / 2, hop % nodes, hop + 1));
        }
        assert_eq!(network.now(), Moment::from_micros(120));
    }
}

#[test]
fn the_script_reaches_wires_and_boards_at_its_times() {
    let mut network = ring(2, Seed(1), &Setup::uart(10_000_000));
    let cut = Action::Wire(bellwire_cli::sim::LineId(1), Condition::Cut);
    for (micros, action) in [(5, Action::Act(NodeId(1), 7)), (4, cut), (5, Action::Restart(NodeId(0)))] {
        network.script().add(Moment::from_micros(micros), action);
    }
    let mut done = Vec::new();
    network
        .run(Moment::from_millis(1), &mut |now, seen| {
            if let Seen::Done(action) = seen {
                done.push((now.nanos() / 1_000, action));
            }
        })
        .unwrap();
    assert_eq!(done, [(4, cut), (5, Action::Act(NodeId(1), 7)), (5, Action::Restart(NodeId(0)))]);
    assert_eq!((network.node(NodeId(0)).restarts, &network.node(NodeId(1)).acts[..]), (1, &[7][..]));
    assert_eq!(network.next(), None, "the cut ended it all");
}

struct Restless;

impl Node for Restless {
    fn arrived(&mut self, _: Moment, _: usize, _: &[u8]) {}
    fn woken(&mut self, _: Moment) {}
    fn transmit(&mut self, _: Moment, _: usize, _: usize, _: &mut Vec<u8>) -> bool {
        false
    }
    fn wake(&self) -> Option<Moment> {
        Some(Moment::from_micros(3))
    }
}

#[test]
fn a_node_that_stops_the_time_is_found() {
    let mut network = Network::new(Seed(1));
    network.add(Restless);
    let stalled = network.run(Moment::from_millis(1), &mut |_, _| {}).unwrap_err();
    assert_eq!(stalled, Stalled { now: Moment::from_micros(3), node: Some(NodeId(0)) });
}
