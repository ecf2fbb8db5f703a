//! One night of a soak.

use super::{Noise, Sum};
use crate::Seed;
use crate::pair::{Make, Pair};
use bellwire::frame::Class;
use bellwire::link::State;
use bellwire::time::Duration as Span;
use bellwire_cli::endpoint::FcsName;
use bellwire_cli::sim::traffic::Load;
use bellwire_cli::sim::{Action, Counted, Dice, Faults, Moment, NodeId, Seed as Origin, Setup};
use core::time::Duration;

/// After so many milliseconds without noise all must be settled: the longest pause between openings on an unordered line is 45 s, and a
/// give-up takes less.
const SETTLED: u64 = 120_000;

/// Night `number` of the soak of this seed.
///
/// # Errors
/// In words, if the books do not balance or the links do not come to rest.
pub fn night(noise: &Noise, number: u64, seed: &Seed) -> Result<Sum, String> {
    let mut dice = Origin(seed.value()).stream(number);
    let make = make(noise, &mut dice);
    let mut pair = Pair::new(&make);
    let noisy = noise.seconds * 1_000;
    let restarts = restarts(&mut pair, &mut dice, noisy);
    pair.run(Moment::from_millis(noisy));
    let carried = carried(&pair);
    for (node, line) in [(0, pair.there), (1, pair.back)] {
        pair.network.set_faults(line, Faults::NONE).map_err(|bad| bad.to_string())?;
        pair.network.node_mut(NodeId(node)).program_mut().finish();
    }
    pair.run(Moment::from_millis(noisy + SETTLED));
    check(&make, &pair).map_err(|words| {
        let Make { framing, window, .. } = make;
        format!(
            "{}, night {number} of seed {:#x}, {framing:?}, window {window}: {words}",
            noise.name,
            seed.value()
        )
    })?;
    let mut sum = Sum { nights: 1, restarts, slipped: pair.slipped, ..carried };
    for books in &pair.books {
        sum.add(&Sum { balance: books.balance(), ..Sum::default() });
    }
    Ok(sum)
}

fn make(noise: &Noise, dice: &mut Dice) -> Make {
    let mut one_of = |below: usize| usize::try_from(dice.below(below as u64)).unwrap_or(0);
    let framing = noise.framings[one_of(noise.framings.len())];
    let window = 1 + one_of(8);
    let load = Load {
        from: Moment::START,
        messages: u64::MAX,
        pause: Duration::from_millis(2),
        classes: Class::ALL.to_vec(),
        longest: 24,
    };
    Make {
        framing,
        fcs: noise.fcs,
        window,
        tries: 5,
        keep_alive: Span::from_ticks(1_000_000),
        setup: Setup { carries: noise.carries, queue: 512, ..Setup::uart(115_200).with(noise.faults) },
        loads: [load.clone(), load],
        seed: Origin(dice.bits()),
    }
}

/// Restarts at random instants of the noisy part.
fn restarts(pair: &mut Pair, dice: &mut Dice, noisy: u64) -> u64 {
    let mut restarts = 0;
    for node in 0..2 {
        for _ in 0..dice.below(6) {
            let at = Moment::from_nanos(dice.below(noisy * 1_000_000));
            pair.network.script().add(at, Action::Restart(NodeId(node)));
            restarts += 1;
        }
    }
    restarts
}

fn check(make: &Make, pair: &Pair) -> Result<(), String> {
    if pair.slipped > 0 {
        // Damage that a 16-bit FCS lets through is outside every promise (WIRE.md section 8); a soak with 32 bits expects none.
        return if make.fcs == FcsName::Bits16 {
            Ok(())
        } else {
            Err("damage got past a 32-bit FCS".to_owned())
        };
    }
    for (node, books) in pair.books.iter().enumerate() {
        let balance = books.balance();
        let breaches = books.breaches_when_settled();
        if !breaches.is_empty() {
            let some = &breaches[..breaches.len().min(5)];
            return Err(format!("board {node}: {} promises broken: {some:?} {balance:?}", breaches.len()));
        }
        if pair.network.node(NodeId(node)).link().state() != State::Up || !pair.traffic(node).is_done() {
            return Err(format!("board {node} does not come to rest: {balance:?}"));
        }
    }
    let [one, other] = [0, 1].map(|node| pair.traffic(node).session());
    if one == other { Ok(()) } else { Err(format!("two sessions: {one:?} and {other:?}")) }
}

/// Frames and faults on both lines so far.
fn carried(pair: &Pair) -> Sum {
    let mut sum = Sum::default();
    for line in [pair.there, pair.back] {
        let counted = pair.network.counted(line);
        let Counted { dropped, flipped, doubled, inserted, lost, copied, late, spoilt, .. } = counted;
        sum.frames += counted.writes;
        sum.faults += dropped + flipped + doubled + inserted + lost + copied + late + spoilt;
    }
    sum
}
