//! The books of P3 for every leaf in both directions, under loss, doubling, overtaking and restarts.

use super::world::{Dice, Faults, Told, Watch, World};
use crate::{
    frame::Class,
    framing::{Cobs, Datagram, Framing},
    link::{Event, Outcome, State},
    time::Instant,
};
use std::{collections::HashMap, println, vec::Vec};

/// A message that somebody accepted.
struct Entry {
    class: Class,
    to_hub: bool,
    leaf: u8,
    /// The session in which it was accepted.
    session: u32,
    arrived: u32,
    outcome: Option<Outcome>,
    /// Its sender has restarted since.
    forgotten: bool,
}

#[derive(Default)]
struct Books {
    entries: Vec<Entry>,
    /// By sender (to the hub or not, leaf) and ticket.
    tickets: HashMap<(bool, u8, u16), usize>,
    /// The last errand, or set-point of a message number, that arrived, by direction and leaf, and its session.
    last: HashMap<(bool, u8, Class, u8), (u32, usize)>,
}

impl Books {
    fn accept(&mut self, class: Class, to_hub: bool, leaf: u8, session: u32, ticket: u16, index: usize) {
        assert_eq!(index, self.entries.len());
        self.entries.push(Entry {
            class,
            to_hub,
            leaf,
            session,
            arrived: 0,
            outcome: None,
            forgotten: false,
        });
        if class.is_confirmed() {
            self.tickets.insert((to_hub, leaf, ticket), index);
        }
    }

    fn arrives(&mut self, to_hub: bool, leaf: u8, session: Option<u32>, class: Class, payload: &[u8]) {
        let index = u32::from_le_bytes(payload[1..5].try_into().unwrap()) as usize;
        let entry = &mut self.entries[index];
        assert_eq!((entry.class, entry.to_hub, entry.leaf), (class, to_hub, leaf));
        assert_eq!(Some(entry.session), session, "from an earlier session");
        entry.arrived += 1;
        if class != Class::Notice {
            assert_eq!(entry.arrived, 1, "twice");
        }
        assert!(!matches!(entry.outcome, Some(Outcome::NotSent(_))), "said not to be sent");
        let message = if class == Class::SetPoint { payload[0] } else { 0 };
        if matches!(class, Class::Errand | Class::SetPoint)
            && let Some((before, last)) =
                self.last.insert((to_hub, leaf, class, message), (entry.session, index))
        {
            assert!(before != entry.session || last < index, "out of order");
        }
    }

    fn outcome(&mut self, to_hub: bool, leaf: u8, ticket: u16, outcome: Outcome) {
        let index = self.tickets.remove(&(to_hub, leaf, ticket)).expect("a ticket that was given");
        let entry = &mut self.entries[index];
        assert!(entry.outcome.is_none());
        match outcome {
            Outcome::Delivered => assert_eq!(entry.arrived, 1, "said to be delivered"),
            Outcome::NotSent(_) => assert_eq!(entry.arrived, 0),
            Outcome::Unknown => {}
        }
        entry.outcome = Some(outcome);
    }

    fn restarted(&mut self, to_hub: bool, leaf: Option<u8>) {
        let gone = |key: &(bool, u8, u16)| key.0 == to_hub && leaf.is_none_or(|leaf| leaf == key.1);
        for (_, index) in self.tickets.extract_if(|key, _| gone(key)) {
            self.entries[index].forgotten = true;
        }
    }
}

impl<F: Framing, const LEAVES: usize> Watch<F, LEAVES> for Books {
    fn told(&mut self, _now: u32, session: Option<u32>, told: &Told<'_>) {
        match &told.event {
            Event::Message(message) => {
                self.arrives(told.at_hub, told.leaf, session, message.class, message.payload);
            }
            Event::Outcome { ticket, outcome } => {
                self.outcome(!told.at_hub, told.leaf, ticket.get(), *outcome);
            }
            _ => {}
        }
    }
}

/// One run; gives how many confirmed messages were accepted, delivered, unknown, not sent, and lost with a restart of the sender.
fn run<F: Framing, const LEAVES: usize>(framing: F, seed: u64, faults: Faults, restarts: u32) -> [usize; 5] {
    let mut world = World::<F, LEAVES>::new(framing, seed, faults);
    let mut books = Books::default();
    let mut dice = Dice::new(seed ^ 0xB00C);
    for _ in 0..400 {
        let leaf = 1 + dice.below(LEAVES as u32) as u8;
        let to_hub = dice.below(2) == 0;
        let class = Class::ALL[dice.below(4) as usize];
        let index = books.entries.len();
        let mut payload = [dice.below(3) as u8, 0, 0, 0, 0];
        payload[1..].copy_from_slice(&(index as u32).to_le_bytes());
        let now = Instant::from_ticks(world.now);
        let (sent, session) = if to_hub {
            let link = &mut world.leaves[usize::from(leaf) - 1];
            (link.send(now, class, &payload), link.peer().map(|peer| peer.session))
        } else {
            (world.hub.send(now, leaf, class, &payload), world.hub.session(leaf))
        };
        if let (Ok(ticket), Some(session)) = (sent, session) {
            books.accept(class, to_hub, leaf, session, ticket.get(), index);
        }
        if dice.below(1_000) < restarts {
            if dice.below(4) == 0 {
                world.restart_hub();
                books.restarted(false, None);
            } else {
                world.restart_leaf(leaf);
                books.restarted(true, Some(leaf));
            }
        }
        world.run(world.now + dice.below(12_000), &mut books);
    }
    world.faults = Faults::default();
    world.run(world.now + 40_000_000, &mut books);
    assert!(books.tickets.is_empty(), "without an outcome: {:?}", books.tickets);
    for leaf in 1..=LEAVES as u8 {
        assert_eq!(world.hub.state(leaf), State::Up, "leaf {leaf}");
    }
    let confirmed: Vec<_> = books.entries.iter().filter(|entry| entry.class.is_confirmed()).collect();
    let count = |wanted: fn(&Entry) -> bool| confirmed.iter().filter(|entry| wanted(entry)).count();
    let counts = [
        confirmed.len(),
        count(|entry| entry.outcome == Some(Outcome::Delivered)),
        count(|entry| entry.outcome == Some(Outcome::Unknown)),
        count(|entry| matches!(entry.outcome, Some(Outcome::NotSent(_)))),
        count(|entry| entry.forgotten),
    ];
    assert_eq!(counts[0], counts[1..].iter().sum::<usize>(), "the books balance");
    counts
}

fn sum_of_runs(runs: u64, one: impl Fn(u64) -> [usize; 5]) -> [usize; 5] {
    let mut sum = [0; 5];
    for seed in 0..runs {
        let counts = one(seed);
        sum = core::array::from_fn(|at| sum[at] + counts[at]);
    }
    println!("accepted, delivered, unknown, not sent, lost with their sender: {sum:?}");
    sum
}

#[test]
fn on_a_whole_medium_every_confirmed_message_is_delivered() {
    for seed in 0..4 {
        let counts = run::<_, 8>(Cobs, seed, Faults::default(), 0);
        assert!(counts[0] > 50 && counts[0] == counts[1], "{counts:?}");
        let counts = run::<_, 8>(Datagram, seed, Faults::default(), 0);
        assert!(counts[0] > 50 && counts[0] == counts[1], "{counts:?}");
    }
}

#[test]
fn the_books_balance_on_a_shared_wire_with_loss_and_restarts() {
    let faults = Faults { lost: 64, ..Faults::default() };
    let sum = sum_of_runs(12, |seed| run::<_, 5>(Cobs, seed, faults, 25));
    assert!(sum.iter().all(|&count| count > 0), "every outcome occurs: {sum:?}");
}

#[test]
fn the_books_balance_on_a_radio_with_loss_doubles_overtaking_and_restarts() {
    let faults = Faults { lost: 50, doubled: 50, late: 100 };
    let sum = sum_of_runs(12, |seed| run::<_, 5>(Datagram, seed, faults, 25));
    assert!(sum.iter().all(|&count| count > 0), "every outcome occurs: {sum:?}");
}

#[test]
fn one_leaf_and_many_leaves_balance_too() {
    let faults = Faults { lost: 25, doubled: 25, late: 50 };
    assert!(run::<_, 1>(Datagram, 9, faults, 10)[0] > 50);
    assert!(run::<_, 60>(Datagram, 9, faults, 10)[0] > 50);
}
