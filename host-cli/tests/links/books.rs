//! Two links over a hostile line keep the books, with every framing and window, whatever restarts when.

use bellwire::frame::Class;
use bellwire::link::State;
use bellwire::time::Duration as Span;
use bellwire_cli::endpoint::{FcsName, FramingName};
use bellwire_cli::sim::traffic::Load;
use bellwire_cli::sim::{
    Action, Carries, Condition, Dice, Faults, LineId, Moment, NodeId, Seed, Setup, profile,
};
use bellwire_tests::pair::{Make, Pair};
use core::time::Duration;

/// The hostile part of a run lasts this long; then the lines are clean and whole.
const HOSTILE: u64 = 30_000;

/// Runs of each framing, window and noise.
const AGAIN: usize = 4;

/// In so much clean time all must be settled: the longest pause between openings on an unordered line is 45 s, and a give-up takes less.
const SETTLED: u64 = HOSTILE + 120_000;

/// Restarts, cuts and stuck lines at random instants of the hostile part.
fn mishaps(pair: &mut Pair, dice: &mut Dice) {
    let instant = |dice: &mut Dice| dice.below(HOSTILE * 1_000_000);
    for node in 0..2 {
        for _ in 0..dice.below(4) {
            let at = Moment::from_nanos(instant(dice));
            pair.network.script().add(at, Action::Restart(NodeId(node)));
        }
    }
    for line in [pair.there, pair.back] {
        for _ in 0..dice.below(3) {
            let from = instant(dice);
            let to = (from + dice.below(6_000_000_000)).min(HOSTILE * 1_000_000);
            let condition = [Condition::Cut, Condition::Stuck(0x00), Condition::Stuck(0xFF)]
                [usize::try_from(dice.below(3)).unwrap()];
            pair.network.script().add(Moment::from_nanos(from), Action::Wire(line, condition));
            pair.network.script().add(Moment::from_nanos(to), Action::Wire(line, Condition::Whole));
        }
    }
}

fn keeps_the_books(make: &Make, dice: &mut Dice) -> Tally {
    let mut pair = Pair::new(make);
    mishaps(&mut pair, dice);
    pair.run(Moment::from_millis(HOSTILE));
    for line in [0, 1] {
        pair.network.set_faults(LineId(line), Faults::NONE).unwrap();
    }
    pair.run(Moment::from_millis(SETTLED));
    let what = || format!("{:?}, window {}, {}", make.framing, make.window, make.seed);
    if pair.slipped > 0 {
        // Damage that a 16-bit FCS lets through is outside every promise (WIRE.md section 8).
        assert_eq!(make.fcs, FcsName::Bits16, "{}: damage got past a 32-bit FCS", what());
        return Tally { slipped: pair.slipped, ..Tally::default() };
    }
    for (node, books) in pair.books.iter().enumerate() {
        assert_eq!(books.breaches_when_settled(), [], "board {node}: {}\n{:?}", what(), books.balance());
        assert_eq!(pair.network.node(NodeId(node)).link().state(), State::Up, "board {node}: {}", what());
        assert!(pair.traffic(node).is_done(), "board {node} is stuck: {}\n{:?}", what(), books.balance());
    }
    assert_eq!(pair.traffic(0).session(), pair.traffic(1).session(), "{}", what());
    let [one, other] = [pair.books[0].balance(), pair.books[1].balance()];
    Tally {
        delivered: one.delivered + other.delivered,
        unknown: one.unknown + other.unknown,
        lost: one.lost + other.lost,
        not_sent: one.not_sent + other.not_sent,
        slipped: 0,
    }
}

/// What happened over many runs, to be sure that all of it was tried.
#[derive(Debug, Default)]
struct Tally {
    delivered: u64,
    unknown: u64,
    lost: u64,
    not_sent: u64,
    slipped: u64,
}

fn many_runs(name: &str, framings: &[FramingName], carries: Carries, faults: &[Faults]) {
    let seed = bellwire_tests::seed(name);
    let mut tally = Tally::default();
    let mut run = 0;
    for &framing in framings {
        for window in (1..=8).flat_map(|window| [window; AGAIN]) {
            for (&faults, fcs) in faults.iter().zip([FcsName::Bits32, FcsName::Bits16]) {
                let mut dice = Seed(seed.value()).stream(run);
                run += 1;
                let load = Load {
                    from: Moment::START,
                    messages: 400,
                    pause: Duration::from_millis(50),
                    classes: Class::ALL.to_vec(),
                    longest: 48,
                };
                let make = Make {
                    framing,
                    fcs,
                    window,
                    tries: 5,
                    keep_alive: Span::from_ticks(1_000_000),
                    setup: Setup { carries, queue: 512, ..Setup::uart(115_200).with(faults) },
                    loads: [load.clone(), load],
                    seed: Seed(dice.bits()),
                };
                let more = keeps_the_books(&make, &mut dice);
                tally.delivered += more.delivered;
                tally.unknown += more.unknown;
                tally.lost += more.lost;
                tally.not_sent += more.not_sent;
                tally.slipped += more.slipped;
            }
        }
    }
    println!("{run} runs: {tally:?}");
    assert!(
        tally.delivered > 1_000 && tally.unknown > 0 && tally.lost > 0 && tally.not_sent > 0,
        "{tally:?}"
    );
}

#[test]
fn two_links_over_a_hostile_line_keep_the_books() {
    many_runs(
        "two_links_over_a_hostile_line_keep_the_books",
        &[FramingName::Cobs, FramingName::OctetStuffing, FramingName::Slip],
        Carries::Octets { level: 16 },
        &[profile::HOSTILE, profile::MOTOR],
    );
}

#[test]
fn two_links_over_a_line_that_doubles_and_overtakes_keep_the_books() {
    many_runs(
        "two_links_over_a_line_that_doubles_and_overtakes_keep_the_books",
        &[FramingName::Datagram],
        Carries::Datagrams,
        &[profile::CROWD, profile::FIELD],
    );
}
