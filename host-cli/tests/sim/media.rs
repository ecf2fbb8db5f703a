//! Shared media: who hears what, when, and what becomes of those that talk at once; each ear has its own faults, each at its rate.

use crate::chi::assert_odds;
use bellwire_cli::sim::{
    Action, BadSetup, Carries, Counted, Faults, LineId, MediumId, Moment, Network, Node, NodeId, Plug, Seed,
    Seen, Setup, Shared, Spell,
};
use core::time::Duration;

/// Writes at stated moments, and keeps what it heard and what it found when it looked.
#[derive(Default)]
struct Talker {
    writes: Vec<(Moment, Vec<u8>)>,
    heard: Vec<(u64, Vec<u8>)>,
    found: Vec<(u64, bool)>,
}

fn micros(moment: Moment) -> u64 {
    moment.nanos() / 1_000
}

impl Node for Talker {
    fn arrived(&mut self, now: Moment, _port: usize, octets: &[u8]) {
        self.heard.push((micros(now), octets.to_vec()));
    }
    fn woken(&mut self, _now: Moment) {}
    fn looks(&mut self, now: Moment, _port: usize, busy: bool) {
        if self.writes.first().is_some_and(|(at, _)| *at <= now) {
            self.found.push((micros(now), busy));
        }
    }
    fn transmit(&mut self, now: Moment, _port: usize, _unsent: usize, out: &mut Vec<u8>) -> bool {
        if self.writes.first().is_none_or(|(at, _)| *at > now) {
            return false;
        }
        out.extend(self.writes.remove(0).1);
        true
    }
    fn wake(&self) -> Option<Moment> {
        self.writes.first().map(|(at, _)| *at)
    }
}

/// Boards on one medium, with what each of them writes at which microsecond.
fn on(shared: Shared, writes: &[&[(u64, &[u8])]]) -> (Network<Talker>, MediumId, Vec<LineId>) {
    let mut network = Network::new(Seed(1));
    let medium = network.share(shared).unwrap();
    let mut ears = Vec::new();
    for writes in writes {
        let writes = writes.iter().map(|(at, octets)| (Moment::from_micros(*at), octets.to_vec())).collect();
        let node = network.add(Talker { writes, ..Talker::default() });
        ears.push(network.attach(medium, Plug::of(node)));
    }
    (network, medium, ears)
}

fn run(network: &mut Network<Talker>) {
    network.run(Moment::from_millis(10), &mut |_, _| {}).unwrap();
}

fn heard(network: &Network<Talker>, node: usize) -> &[(u64, Vec<u8>)] {
    &network.node(NodeId(node)).heard
}

/// One octet a microsecond.
fn radio() -> Shared {
    Shared::radio(1_000_000)
}

fn wire() -> Shared {
    Shared { echo: false, ..Shared::wire(10_000_000) }
}

#[test]
fn every_other_board_hears_a_frame_once_it_is_over() {
    let lead = Duration::from_micros(8);
    let (delay, switch) = (Duration::from_micros(3), Duration::from_micros(5));
    let line = Setup { delay, ..radio().line };
    let shared = Shared { lead, switch, line, ..radio() };
    assert_eq!(shared.airtime(4), Duration::from_micros(12));
    let (mut network, medium, ears) = on(shared, &[&[(10, &[1, 2, 3, 4])], &[], &[]]);
    run(&mut network);
    // Written at 10, changed over at 15, lead until 23, octets until 27, delay.
    for node in [1, 2] {
        assert_eq!(heard(&network, node), [(30, vec![1, 2, 3, 4])]);
    }
    assert_eq!(heard(&network, 0), [], "no board hears itself");
    let talked = network.talked(medium);
    assert_eq!((talked.writes, talked.octets, talked.collided, talked.busy), (1, 4, 0, 12_000));
    assert!(ears.iter().all(|ear| network.counted(*ear).is_clean()));
}

#[test]
fn two_frames_that_overlap_by_a_nanosecond_are_both_lost_and_those_that_touch_are_not() {
    let (mut network, medium, ears) = on(radio(), &[&[(10, &[1; 4])], &[(14, &[2; 4])], &[]]);
    run(&mut network);
    assert_eq!(heard(&network, 2), [(14, vec![1; 4]), (18, vec![2; 4])]);
    assert_eq!(network.talked(medium).collided, 0);

    let early = Shared { switch: Duration::from_nanos(1), ..radio() };
    let (mut network, medium, ears2) = on(early, &[&[(10, &[1; 4])], &[(13, &[2; 4])], &[]]);
    run(&mut network);
    assert_eq!(heard(&network, 2), []);
    assert_eq!((network.talked(medium).collided, network.counted(ears2[2]).collided), (2, 2));
    assert_eq!(network.counted(ears2[0]).collided, 1, "of the other's");
    assert!(network.counted(ears[2]).octets == 0, "nothing but collisions came here");
}

#[test]
fn three_that_overlap_in_a_chain_are_all_lost_and_a_frame_behind_its_own_waits() {
    let (mut network, medium, _) =
        on(radio(), &[&[(10, &[1; 4]), (11, &[4; 4])], &[(13, &[2; 6])], &[(18, &[3; 4])], &[(22, &[5])]]);
    run(&mut network);
    // 10-14 and 14-18 by the first board, 13-19 by the second, 18-22 by the third; the fourth touches only.
    assert_eq!(heard(&network, 0), [(23, vec![5])]);
    assert_eq!((network.talked(medium).writes, network.talked(medium).collided), (5, 4));
}

#[test]
fn a_look_finds_who_talks_but_not_who_is_changing_over() {
    let shared = Shared { switch: Duration::from_micros(2), ..radio() };
    let looks: Vec<(u64, &[u8])> = [10, 11, 12, 15, 16, 17].iter().map(|at| (*at, &[][..])).collect();
    for (shared, wanted) in [
        (shared.clone(), [false, false, true, true, false, false]),
        (Shared { listens: false, ..shared }, [false; 6]),
    ] {
        let (mut network, _, _) = on(shared, &[&[(10, &[1; 4])], &looks]);
        run(&mut network);
        let found: Vec<bool> = network.node(NodeId(1)).found.iter().map(|(_, busy)| *busy).collect();
        assert_eq!(found, wanted, "it talks from 12 to 16");
    }
}

#[test]
fn on_a_wire_octets_come_one_by_one_and_an_echo_only_where_there_is_one() {
    for echo in [false, true] {
        let (mut network, medium, _) =
            on(Shared { echo, ..wire() }, &[&[(10, &[1, 2]), (12, &[3])], &[(20, &[4])]]);
        run(&mut network);
        assert_eq!(heard(&network, 1)[..3], [(11, vec![1]), (12, vec![2]), (13, vec![3])]);
        let own = if echo { 3 } else { 0 };
        assert_eq!(heard(&network, 0).len(), own + 1);
        assert_eq!(heard(&network, 0).last(), Some(&(21, vec![4])));
        assert_eq!(network.talked(medium).collided, 0);
    }
}

#[test]
fn on_a_wire_exactly_the_octets_that_overlap_are_garbled() {
    let (mut network, medium, ears) = on(wire(), &[&[(10, &[1; 8])], &[(15, &[2; 6])], &[]]);
    run(&mut network);
    let (times, octets): (Vec<u64>, Vec<u8>) =
        heard(&network, 2).iter().map(|(at, octets)| (*at, octets[0])).unzip();
    // The first talks from 10 to 18, the second from 15 to 21: three octets of each are garbled, and come as three.
    assert_eq!(times, [11, 12, 13, 14, 15, 16, 17, 18, 19, 20, 21]);
    assert_eq!((&octets[..5], &octets[8..]), (&[1; 5][..], &[2; 3][..]));
    assert!(octets[5..8].iter().any(|octet| ![1, 2].contains(octet)));
    assert_eq!((network.counted(ears[2]).collided, network.talked(medium).collided), (6, 2));
}

#[test]
fn a_board_that_restarts_falls_silent_in_the_middle_of_its_frame() {
    for (shared, wanted) in [(wire(), 3), (radio(), 0)] {
        let (mut network, _, _) = on(shared, &[&[(10, &[1; 8])], &[(30, &[9])], &[]]);
        network.script().add(Moment::from_micros(13), Action::Restart(NodeId(0)));
        run(&mut network);
        let of_the_first = heard(&network, 2).iter().filter(|(_, octets)| octets[0] == 1).count();
        assert_eq!(of_the_first, wanted);
        assert_eq!(heard(&network, 2).last(), Some(&(31, vec![9])));
    }
}

#[test]
fn a_full_driver_takes_what_fits_and_counts_the_rest() {
    for (shared, taken) in [(wire(), 8), (radio(), 6)] {
        let line = Setup { queue: 8, ..shared.line.clone() };
        let (mut network, medium, _) = on(Shared { line, ..shared }, &[&[(10, &[1; 6]), (10, &[2; 6])], &[]]);
        run(&mut network);
        let talked = network.talked(medium);
        assert_eq!((talked.octets, talked.overflowed), (taken, 12 - taken));
    }
}

#[test]
fn a_medium_that_cannot_be_is_refused_with_the_reason() {
    let mut network: Network<Talker> = Network::new(Seed(1));
    let lead = Duration::from_micros(1);
    assert_eq!(network.share(Shared { lead, ..wire() }), Err(BadSetup::NotHere("lead")));
    let line = Setup { rate: 0, ..wire().line };
    assert_eq!(network.share(Shared { line, ..wire() }), Err(BadSetup::NoRate));
}

const WRITES: u64 = 20_000;

/// Each ear on one medium has the faults that it was given, each at its rate, and no other.
#[test]
fn each_ear_has_its_own_faults_and_no_other() {
    let name = "each_ear_has_its_own_faults_and_no_other";
    let spell = Some(Spell { begin: 0.01, end: 0.04, spoil: 1.0 });
    let late_by = Duration::from_micros(50);
    let channel = [
        Faults::NONE,
        Faults { lose: 0.05, ..Faults::NONE },
        Faults { copy: 0.06, ..Faults::NONE },
        Faults { late: 0.07, late_by, ..Faults::NONE },
        Faults { flip: 0.02, ..Faults::NONE },
        Faults { spell, ..Faults::NONE },
    ];
    let cable = [
        Faults::NONE,
        Faults { lose: 0.05, ..Faults::NONE },
        Faults { drop: 0.01, ..Faults::NONE },
        Faults { double: 0.02, ..Faults::NONE },
        Faults { flip: 0.02, ..Faults::NONE },
        Faults { spell, ..Faults::NONE },
    ];
    for (shared, faults) in [(radio(), channel), (wire(), cable)] {
        let seed = bellwire_tests::seed(name);
        let mut network = Network::new(Seed(seed.value()));
        let is_wire = matches!(shared.line.carries, Carries::Octets { .. });
        let medium = network.share(shared).unwrap();
        let mut ears = Vec::new();
        for _ in &faults {
            let node = network.add(Talker::default());
            ears.push(network.attach(medium, Plug::of(node)));
        }
        for (ear, faults) in ears.iter().zip(faults) {
            network.set_faults(*ear, faults).unwrap();
        }
        let writes =
            (0..WRITES).rev().map(|number| (Moment::from_micros(20 * number), vec![0xA5; 8])).rev().collect();
        let talker = network.add(Talker { writes, ..Talker::default() });
        network.attach_sender(medium, Plug::of(talker));
        let mut came = vec![0_u64; faults.len()];
        network
            .run(Moment::from_millis(1_000), &mut |_, seen| {
                if let Seen::Arrived { line: LineId(line), .. } = seen {
                    came[line] += 1;
                }
            })
            .unwrap();
        let counts = ears.iter().map(|ear| network.counted(*ear)).collect::<Vec<_>>();
        assert_ears(is_wire, &counts);
        if !is_wire {
            assert_eq!((came[1], came[2]), (WRITES - counts[1].lost, WRITES + counts[2].copied));
        }
    }
}

/// Asserts that each ear has its fault at its rate, and no other.
fn assert_ears(is_wire: bool, counts: &[Counted]) {
    let count = |ear: usize| counts[ear];
    assert!(count(0).is_clean());
    assert_eq!(count(0).arrived, 8 * WRITES);
    assert_odds("lost", count(1).lost, WRITES, 0.05);
    if is_wire {
        assert_odds("dropped", count(2).dropped, 8 * WRITES, 0.01);
        assert_odds("doubled", count(3).doubled, 8 * WRITES, 0.02);
    } else {
        assert_odds("copied", count(2).copied, WRITES, 0.06);
        assert_odds("late", count(3).late, WRITES, 0.07);
    }
    assert_odds("flipped", count(4).flipped, 8 * WRITES, 0.02);
    assert_odds("ends of spells", count(5).spells, count(5).in_spell, 0.04);
    // A channel tells its weather for each frame, a wire for each octet.
    let good = if is_wire { 8 * WRITES } else { WRITES } - count(5).in_spell;
    assert_odds("begins of spells", count(5).spells, good, 0.01);
    let sums = [1, 2, 3, 4, 5].map(|ear| {
        let counted = count(ear);
        [
            counted.lost,
            counted.dropped + counted.copied,
            counted.doubled + counted.late,
            counted.flipped,
            counted.spoilt,
        ]
    });
    for (ear, sum) in sums.iter().enumerate() {
        let others =
            sum.iter().enumerate().filter(|(fault, _)| *fault != ear).map(|(_, count)| count).sum::<u64>();
        assert!(sum[ear] > 0 && others == 0, "ear {}: {sum:?}", ear + 1);
    }
}
