//! P3 of the design: confirmed ⊆ arrived ⊆ confirmed ∪ unknown ∪ lost with a restart of the sender; each arrival once; errands in order;
//! nothing of an earlier session in a later one. Random loss, random restarts, windows 1 to 8, time starting anywhere, the wrap included.

#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]

mod common;

use std::collections::BTreeSet;

use bellwire::{
    frame::Class,
    framing::{Cobs, Datagram, Framing},
    link::{Config, Outcome, OwnNumber},
    time::Duration,
};
use common::{Pair, Told, Who, config};
use proptest::prelude::*;

#[derive(Debug, Clone)]
struct Plan {
    origin: u32,
    /// Of 256.
    loss: u8,
    doubles: u8,
    seed: u32,
    items: Vec<(bool, bool, u32)>,
    restarts: Vec<(bool, u32)>,
}

fn plan() -> impl Strategy<Value = Plan> {
    let origin = prop_oneof![any::<u32>(), (0..5_000_000_u32).prop_map(|before| u32::MAX - before)];
    let items = prop::collection::vec((any::<bool>(), any::<bool>(), 0..40_000_u32), 1..60);
    let restarts = prop::collection::vec((any::<bool>(), 0..3_000_000_u32), 0..4);
    (origin, 0..100_u8, 0..80_u8, any::<u32>(), items, restarts).prop_map(
        |(origin, loss, doubles, seed, items, restarts)| Plan {
            origin,
            loss,
            doubles,
            seed,
            items,
            restarts,
        },
    )
}

/// A small random sequence for the line.
fn dice(mut state: u32) -> impl FnMut() -> u32 {
    move || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        state >> 8
    }
}

#[derive(Default)]
struct Books {
    /// The accepted items of each board, by ticket as long as it does not restart.
    accepted: [Vec<u8>; 2],
}

fn run<F: Framing, const W: usize, const Q: usize>(framing: F, configs: [Config; 2], plan: &Plan) {
    let mut pair = Pair::<F, W, Q>::new(framing, configs, plan.origin);
    let mut roll = dice(plan.seed);
    let (loss, doubles) = (u32::from(plan.loss), u32::from(plan.doubles));
    let lifetime = u64::from(configs[0].lifetime.as_ticks());
    pair.line = Box::new(move |_, _| {
        if roll() & 0xFF < loss {
            return vec![];
        }
        if F::ORDERED {
            return vec![0];
        }
        let mut late = || u64::from(roll()) % lifetime.max(1) / 2;
        let first = late();
        if roll() & 0xFF < doubles {
            vec![first, first + u64::from(roll()) % (lifetime / 2)]
        } else {
            vec![first]
        }
    });
    let mut books = Books::default();
    let mut lives = [0_u32; 2];
    let mut restarts = plan.restarts.clone();
    restarts.sort_by_key(|restart| restart.1);
    let mut at = 0_u64;
    for (count, &(from_desk, report, pause)) in plan.items.iter().enumerate() {
        at += u64::from(pause);
        while let Some(&(desk, when)) = restarts.first().filter(|restart| u64::from(restart.1) <= at) {
            pair.run(u64::from(when).saturating_sub(pair.now));
            let who = if desk { Who::Desk } else { Who::Dome };
            lives[who as usize] += 1;
            pair.restart(who, 1_000 + 100_000 * (who as u32 + 1) + 16 * lives[who as usize]);
            restarts.remove(0);
        }
        pair.run(at.saturating_sub(pair.now));
        let who = if from_desk { Who::Desk } else { Who::Dome };
        let class = if report { Class::Report } else { Class::Errand };
        if pair.send(who, class, &[5, count as u8]).is_ok() {
            books.accepted[who as usize].push(count as u8);
        }
    }
    pair.run(10_000_000);
    pair.line = common::perfect();
    pair.run(20_000_000);
    check(&pair, &books, &lives);
}

fn check<F: Framing, const W: usize, const Q: usize>(pair: &Pair<F, W, Q>, books: &Books, lives: &[u32; 2]) {
    for who in Who::BOTH {
        let accepted = &books.accepted[who as usize];
        let (mut confirmed, mut unknown, mut unsent) = (BTreeSet::new(), BTreeSet::new(), BTreeSet::new());
        let arrived: Vec<(u8, Class)> = pair
            .told(who.other())
            .into_iter()
            .filter_map(|told| match told {
                Told::Message { class, payload, .. } => Some((payload[1], class)),
                _ => None,
            })
            .collect();
        let once: BTreeSet<_> = arrived.iter().map(|&(item, ..)| item).collect();
        assert_eq!(once.len(), arrived.len(), "each arrival once");
        let errands: Vec<u8> =
            arrived.iter().filter(|(.., class)| *class == Class::Errand).map(|&(item, ..)| item).collect();
        assert!(errands.is_sorted(), "errands in order: {errands:?}");
        let known: BTreeSet<u8> = accepted.iter().copied().collect();
        assert!(once.is_subset(&known), "nothing is invented");
        // A board that restarts takes outcomes with it; one that does not has one for each item.
        if lives[who as usize] == 0 {
            for (ticket, outcome) in pair.outcomes(who) {
                let item = accepted[usize::from(ticket)];
                match outcome {
                    Outcome::Delivered => confirmed.insert(item),
                    Outcome::Unknown => unknown.insert(item),
                    Outcome::NotSent(_) => unsent.insert(item),
                };
            }
            assert_eq!(
                confirmed.len() + unknown.len() + unsent.len(),
                known.len(),
                "every item has one outcome"
            );
            assert!(unsent.is_disjoint(&once), "not sent is certain");
            assert!(confirmed.is_subset(&once), "confirmed but not arrived: {:?}", &confirmed - &once);
            assert!(once.is_subset(&(&confirmed | &unknown)), "arrived but neither confirmed nor unknown");
        }
    }
    assert!(pair.is_up(), "up again at the end");
}

fn ordered() -> [Config; 2] {
    [config(1_000), config(2_000)].map(|config| Config { jitter_seed: 77, ..config })
}

fn unordered() -> [Config; 2] {
    [1_000, 2_000].map(|own| Config {
        jitter_seed: 5,
        ..Config::datagram(common::RATE, Duration::from_ticks(100_000), OwnNumber::Stored(own))
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn window_1_ordered(plan in plan()) { run::<_, 1, 4>(Cobs, ordered(), &plan); }

    #[test]
    fn window_2_ordered(plan in plan()) { run::<_, 2, 4>(Cobs, ordered(), &plan); }

    #[test]
    fn window_3_ordered(plan in plan()) { run::<_, 3, 6>(Cobs, ordered(), &plan); }

    #[test]
    fn window_8_ordered(plan in plan()) { run::<_, 8, 8>(Cobs, ordered(), &plan); }

    #[test]
    fn window_1_unordered(plan in plan()) { run::<_, 1, 4>(Datagram, unordered(), &plan); }

    #[test]
    fn window_5_unordered(plan in plan()) { run::<_, 5, 8>(Datagram, unordered(), &plan); }

    #[test]
    fn window_8_unordered(plan in plan()) { run::<_, 8, 8>(Datagram, unordered(), &plan); }
}
