//! Everything interleaved with everything: messages both ways and to all, faults, restarts of either side, leaves that close and open.

use super::{
    world::{Faults, LEAVES, Told as Heard, Watch, World},
    *,
};
use crate::{
    framing::Cobs,
    link::{Event, Message, Outcome},
};
use proptest::prelude::*;
use std::{collections::HashMap, vec::Vec};

#[derive(Debug, Clone, Copy)]
enum Act {
    ToAll(bool, u8),
    ToLeaf(usize, usize),
    ToHub(usize, usize),
    RestartDesk,
    RestartLeaf(usize),
    Close(usize),
    Reopen(usize),
    Faults(u32, u32),
    Pass(u32),
}

fn act() -> impl Strategy<Value = Act> {
    prop_oneof![
        6 => (any::<bool>(), 0_u8..3).prop_map(|(set_point, kind)| Act::ToAll(set_point, kind)),
        3 => (0..LEAVES, 0_usize..4).prop_map(|(leaf, class)| Act::ToLeaf(leaf, class)),
        3 => (0..LEAVES, 0_usize..4).prop_map(|(leaf, class)| Act::ToHub(leaf, class)),
        1 => Just(Act::RestartDesk),
        1 => (0..LEAVES).prop_map(Act::RestartLeaf),
        1 => (0..LEAVES).prop_map(Act::Close),
        1 => (0..LEAVES).prop_map(Act::Reopen),
        1 => (0_u32..120, 0_u32..120).prop_map(|(lost, copies)| Act::Faults(lost, copies)),
        4 => (1_u32..30_000).prop_map(Act::Pass),
        2 => (30_000_u32..4_000_000).prop_map(Act::Pass),
    ]
}

/// A message that somebody accepted: for whom (`None`: all), and in which session or of which start of the desk.
struct Entry {
    class: Class,
    session: u32,
    boot: u64,
    at: u32,
    arrived: u32,
    outcome: Option<Outcome>,
}

#[derive(Default)]
struct Books {
    entries: Vec<Entry>,
    tickets: HashMap<(Option<usize>, u16), usize>,
    /// When the desk opened a session.
    opened: HashMap<(u64, u32), u32>,
    /// The last set-point to all by leaf and kind, and its session.
    last: HashMap<(usize, u8), (u32, usize)>,
    taken: u32,
    /// On a wire only two bits of the broadcast number travel (section 11.8): starts of the desk are told apart modulo so many.
    starts: u64,
}

impl Books {
    fn index(payload: &[u8]) -> usize {
        u32::from_le_bytes(payload[1..5].try_into().unwrap()) as usize
    }

    fn payload(&self, kind: u8) -> [u8; 5] {
        let [a, b, c, d] = u32::try_from(self.entries.len()).unwrap().to_le_bytes();
        [kind, a, b, c, d]
    }

    /// The message that is entered next waits for its outcome.
    fn open(&mut self, from: Option<usize>, class: Class, ticket: u16) {
        if class.is_confirmed() {
            self.tickets.insert((from, ticket), self.entries.len());
        }
    }

    fn enter(&mut self, now: u32, class: Class, (session, boot): (u32, u64)) {
        self.entries.push(Entry { class, session, boot, at: now, arrived: 0, outcome: None });
    }

    /// A message between two boards: in its session, and once if it is no notice.
    fn arrives(&mut self, session: Option<(u32, u64)>, message: &Message<'_>) {
        let entry = &mut self.entries[Self::index(message.payload)];
        assert_eq!(entry.class, message.class);
        assert_eq!(session, Some((entry.session, entry.boot)), "from another session");
        entry.arrived += 1;
        assert!(entry.arrived == 1 || entry.class == Class::Notice, "twice");
    }

    /// One to all: of the desk that the leaf talks with, sent since their session opened, set-points of a kind in order and once.
    fn arrives_of_all(&mut self, leaf: usize, session: Option<(u32, u64)>, message: &Message<'_>) {
        let index = Self::index(message.payload);
        let entry = &self.entries[index];
        let (session, boot) = session.expect("nothing to all without a session");
        assert_eq!(entry.class, message.class);
        assert_eq!(entry.boot % self.starts, boot % self.starts, "of another start of the desk");
        assert!(entry.at >= self.opened[&(boot, session)], "sent before the session");
        if entry.class == Class::SetPoint {
            let before = self.last.insert((leaf, message.payload[0]), (session, index));
            assert!(before.is_none_or(|(of, last)| of != session || last < index), "old, or twice");
        }
        self.taken += 1;
    }

    fn outcome(&mut self, from: Option<usize>, ticket: u16, outcome: Outcome) {
        // Tickets of the desk are those of all its leaves together.
        let index = self.tickets.remove(&(from, ticket)).expect("a ticket that was given");
        let entry = &mut self.entries[index];
        assert!(entry.outcome.replace(outcome).is_none());
        match outcome {
            Outcome::Delivered => assert_eq!(entry.arrived, 1),
            Outcome::NotSent(_) => assert_eq!(entry.arrived, 0),
            Outcome::Unknown => {}
        }
    }
}

impl<F: Framing> Watch<F> for Books {
    fn told(&mut self, now: u32, session: Option<(u32, u64)>, told: &Heard<'_>) {
        match told {
            Heard::AtDesk(Event::Opened(peer)) => {
                let (_, boot) = session.unwrap();
                self.opened.insert((boot, peer.session), now);
            }
            Heard::AtDesk(Event::Message(message))
            | Heard::AtLeaf(_, LeafEvent::Link(Event::Message(message))) => self.arrives(session, message),
            Heard::AtLeaf(leaf, LeafEvent::ToAll(message)) => self.arrives_of_all(*leaf, session, message),
            Heard::AtDesk(Event::Outcome { ticket, outcome }) => {
                self.outcome(None, ticket.get(), *outcome);
            }
            Heard::AtLeaf(leaf, LeafEvent::Link(Event::Outcome { ticket, outcome })) => {
                self.outcome(Some(*leaf), ticket.get(), *outcome);
            }
            _ => {}
        }
    }
}

fn perform<F: Framing>(world: &mut World<F>, books: &mut Books, act: Act) {
    let now = at(world.now);
    match act {
        Act::ToAll(is_set_point, kind) => {
            let class = if is_set_point { Class::SetPoint } else { Class::Notice };
            let payload = books.payload(kind);
            if world.desk.all.send(class, &payload).is_ok() {
                books.enter(world.now, class, (0, world.boot));
            }
        }
        Act::ToLeaf(leaf, class) => {
            let Some(address) = world.leaves[leaf].address() else { return };
            let (class, payload) = (Class::ALL[class], books.payload(9));
            let session = world.desk.hub.session(address);
            if let Ok(ticket) = world.desk.hub.send(now, address, class, &payload) {
                books.open(None, class, ticket.get());
                books.enter(world.now, class, (session.unwrap(), world.boot));
            }
        }
        Act::ToHub(leaf, class) => {
            let (class, payload) = (Class::ALL[class], books.payload(9));
            let peer = world.leaves[leaf].peer();
            if let Ok(ticket) = world.leaves[leaf].send(now, class, &payload) {
                books.open(Some(leaf), class, ticket.get());
                let peer = peer.unwrap();
                books.enter(world.now, class, (peer.session, peer.identity));
            }
        }
        Act::RestartDesk => {
            books.tickets.retain(|(from, _), _| from.is_some());
            world.restart_desk();
        }
        Act::RestartLeaf(leaf) => {
            books.tickets.retain(|(from, _), _| *from != Some(leaf));
            world.restart_leaf(leaf);
        }
        Act::Close(leaf) => world.leaves[leaf].close(now),
        Act::Reopen(leaf) => world.leaves[leaf].reopen(now),
        Act::Faults(lost, copies) => world.faults = Faults { lost, doubled: copies, late: copies },
        Act::Pass(span) => world.run(world.now + span, books),
    }
}

/// Gives how many messages to all were taken.
fn run<F: Framing>(framing: F, seed: u64, acts: &[Act]) -> u32 {
    let mut world = World::new(framing, seed, Faults::default());
    let mut books = Books { starts: if F::ORDERED { 4 } else { u64::MAX }, ..Books::default() };
    world.run(300_000, &mut books);
    for act in acts {
        perform(&mut world, &mut books, *act);
        world.run(world.now + 200, &mut books);
    }
    // Without faults everybody is there again in the end, at an address of its own.
    world.faults = Faults::default();
    for leaf in 0..LEAVES {
        world.leaves[leaf].reopen(at(world.now));
    }
    world.run(world.now + 120_000_000, &mut books);
    let mut addresses: Vec<_> = world.leaves.iter().map(|leaf| leaf.address().expect("an address")).collect();
    addresses.sort_unstable();
    addresses.dedup();
    assert_eq!(addresses.len(), LEAVES, "two boards on one address");
    assert!(world.leaves.iter().all(|leaf| leaf.state() == State::Up));
    assert!(books.tickets.is_empty(), "without an outcome: {:?}", books.tickets);
    // Who was not told yet asks at the first of these, and hears the second.
    for _ in 0..2 {
        perform(&mut world, &mut books, Act::ToAll(true, 0));
        world.run(world.now + 2_000_000, &mut books);
    }
    let newest = books.entries.len() - 1;
    for leaf in 0..LEAVES {
        assert_eq!(books.last[&(leaf, 0)].1, newest, "leaf {leaf} hears what goes to all");
    }
    books.taken
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn whatever_is_interleaved_the_books_balance_on_a_radio(seed: u64, acts in proptest::collection::vec(act(), 0..80)) {
        run(Datagram, seed, &acts);
    }

    #[test]
    fn whatever_is_interleaved_the_books_balance_on_a_wire(seed: u64, acts in proptest::collection::vec(act(), 0..80)) {
        run(Cobs, seed, &acts);
    }
}

proptest! {
    /// Octets of any kind, at any time, in any state: no panic, equal leaves stay equal, and all is consumed.
    #[test]
    fn any_octets_are_taken_without_a_panic(
        pieces in proptest::collection::vec((any::<u32>(), proptest::collection::vec(any::<u8>(), 0..60)), 0..40),
        how in 0..3,
    ) {
        let address = [Address::Asked, Address::Wanted(7), Address::Known(7)][how as usize];
        let mut leaf = leaf(address);
        for (now, octets) in pieces {
            let mut twin = leaf.clone();
            for leaf in [&mut leaf, &mut twin] {
                let mut rest = &octets[..];
                leaf.handle_timeout(at(now));
                while leaf.poll_event().is_some() {}
                while !rest.is_empty() {
                    let done = leaf.handle_octets(at(now), rest);
                    prop_assert!(done > 0, "something is taken");
                    rest = &rest[done..];
                    while leaf.poll_event().is_some() {}
                }
                while leaf.poll_transmit(at(now), &mut [0; 80]).is_some() {}
            }
            prop_assert_eq!(&leaf, &twin);
        }
    }
}
