//! The queue of items: where entries lie does not count, what they are and their order does.

use std::{
    hash::{DefaultHasher, Hash, Hasher},
    vec::Vec,
};

use super::super::{
    Outcome, Ticket,
    item::{Item, Stage, Tell},
    queue::Queue,
};
use crate::frame::Class;

type Four = Queue<8, 4>;

fn hash(queue: &Four) -> u64 {
    let mut hasher = DefaultHasher::new();
    queue.hash(&mut hasher);
    hasher.finish()
}

/// Items with these tickets, which are their payloads too.
fn queue(tickets: &[u8]) -> Four {
    let mut queue = Four::new();
    for &ticket in tickets {
        assert!(queue.push(Item::new(Ticket(u16::from(ticket)), Class::Errand), &[ticket]));
    }
    queue
}

fn payloads(queue: &Four) -> Vec<u8> {
    (0..queue.len()).map(|at| queue.payload(at).unwrap().octets()[0]).collect()
}

#[test]
fn queues_are_equal_if_they_give_the_same_in_the_same_order() {
    let all = [queue(&[]), queue(&[1]), queue(&[2]), queue(&[1, 2]), queue(&[2, 1]), queue(&[1, 2, 3])];
    for (at, one) in all.iter().enumerate() {
        for (place, other) in all.iter().enumerate() {
            assert_eq!(one == other, at == place, "{one:?}\n{other:?}");
            assert_eq!(hash(one) == hash(other), at == place);
        }
    }
    // The same items in other places, behind what is left of others.
    let mut moved = queue(&[9, 1, 8, 2]);
    moved.remove(2);
    moved.remove(0);
    assert_eq!((&moved, hash(&moved)), (&all[3], hash(&all[3])));
}

#[test]
fn an_entry_can_be_freed_anywhere_and_its_place_is_used_again() {
    for freed in 0..4 {
        let mut queue = queue(&[0, 1, 2, 3]);
        assert!(queue.is_full() && !queue.push(Item::new(Ticket(4), Class::Errand), &[4]));
        queue.remove(freed);
        let mut left = std::vec![0, 1, 2, 3];
        left.remove(freed);
        assert_eq!((queue.len(), queue.is_full(), payloads(&queue)), (3, false, left.clone()));
        assert!(queue.push(Item::new(Ticket(4), Class::Errand), &[4]));
        left.push(4);
        assert_eq!(payloads(&queue), left);
    }
    let mut queue = queue(&[0, 1]);
    queue.remove(2);
    assert_eq!(payloads(&queue), [0, 1], "there is no third");
    assert!(!queue.push(Item::new(Ticket(2), Class::Errand), &[0; 9]), "nine octets for eight");
    assert_eq!(payloads(&queue), [0, 1]);
    assert!(queue.item(2).is_none() && queue.payload_mut(2).is_none());
}

#[test]
fn those_like_this_are_freed_and_counted() {
    for mask in 0..16_u16 {
        let mut queue = queue(&[0, 1, 2, 3]);
        let freed = queue.remove_all(|item| mask >> item.ticket.0 & 1 == 1);
        assert_eq!(freed, mask.count_ones() as usize);
        assert_eq!(payloads(&queue), (0..4).filter(|&ticket| mask >> ticket & 1 == 0).collect::<Vec<u8>>());
        assert_eq!(queue.is_empty(), mask == 15);
    }
}

#[test]
fn the_first_that_waits_is_of_one_of_the_classes() {
    let mut queue = Four::new();
    for (ticket, class) in (0..).zip(Class::ALL) {
        assert!(queue.push(Item::new(Ticket(ticket), class), &[]));
    }
    for classes in 0..16_u8 {
        let first = Class::ALL.iter().position(|&class| classes >> class as u8 & 1 == 1);
        assert_eq!(queue.waiting(classes), first, "{classes:04b}");
    }
    for (at, stage) in [(0, Stage::Flying), (1, Stage::Finished)] {
        queue.item_mut(at).unwrap().stage = stage;
    }
    assert_eq!(queue.waiting(0b1111), Some(2));
}

#[test]
fn the_first_that_has_something_to_tell_tells_it() {
    let mut queue = queue(&[0, 1, 2, 3]);
    assert_eq!(queue.telling(), None);
    queue.item_mut(3).unwrap().tell = Tell::Resent(2);
    assert_eq!(queue.telling(), Some(3));
    queue.item_mut(2).unwrap().tell = Tell::Outcome(Outcome::Unknown);
    assert_eq!(queue.telling(), Some(2));
}
