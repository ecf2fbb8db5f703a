//! Turns among leaves with something to send, and classes within one, by exact counts.

use super::world::{Faults, Told, Watch, World};
use crate::{
    frame::Class,
    framing::{Cobs, Framing},
    link::{Event, SendError},
    time::Instant,
};
use std::{vec, vec::Vec};

#[derive(Default)]
struct Heard(Vec<(u8, Class, u8)>);

impl<F: Framing, const LEAVES: usize> Watch<F, LEAVES> for Heard {
    fn told(&mut self, _now: u32, _session: Option<u32>, told: &Told<'_>) {
        if let (false, Event::Message(message)) = (told.at_hub, &told.event) {
            self.0.push((told.leaf, message.class, message.payload[1]));
        }
    }
}

fn open<const LEAVES: usize>() -> (World<Cobs, LEAVES>, Heard) {
    let (mut world, mut heard) = (World::<Cobs, LEAVES>::new(Cobs, 1, Faults::default()), Heard::default());
    world.run(100_000, &mut heard);
    world.log.clear();
    (world, heard)
}

#[test]
fn leaves_take_turns_however_much_waits_for_one_of_them() {
    let (mut world, mut heard) = open::<4>();
    let now = Instant::from_ticks(world.now);
    for count in 0..4 {
        world.hub.send(now, 1, Class::Notice, &[5, count]).unwrap();
    }
    for leaf in 2..=4 {
        for count in 0..2 {
            world.hub.send(now, leaf, Class::Notice, &[5, count]).unwrap();
        }
    }
    world.run(world.now + 1_000, &mut heard);
    assert_eq!(world.log, [1, 2, 3, 4, 1, 2, 3, 4, 1, 1]);
}

#[test]
fn within_a_leaf_set_points_go_first_and_after_each_one_of_the_others() {
    let (mut world, mut heard) = open::<2>();
    let now = Instant::from_ticks(world.now);
    for (class, message, mark) in
        [(Class::Notice, 5, 1), (Class::Errand, 6, 2), (Class::SetPoint, 1, 3), (Class::SetPoint, 2, 4)]
    {
        world.hub.send(now, 2, class, &[message, mark]).unwrap();
    }
    // The newest wins, in the place of the older one.
    world.hub.send(now, 2, Class::SetPoint, &[1, 5]).unwrap();
    world.run(world.now + 10_000, &mut heard);
    let wanted =
        [(2, Class::SetPoint, 5), (2, Class::Errand, 2), (2, Class::SetPoint, 4), (2, Class::Notice, 1)];
    assert_eq!(heard.0, wanted);
}

#[test]
fn a_leaf_that_takes_its_share_of_the_pool_leaves_the_rest_to_others() {
    let (mut world, mut heard) = open::<8>();
    let now = Instant::from_ticks(world.now);
    for leaf in 1..=6 {
        for _ in 0..4 {
            world.hub.send(now, leaf, Class::Report, &[7, leaf]).unwrap();
        }
        assert_eq!(world.hub.send(now, leaf, Class::Report, &[7, leaf]), Err(SendError::QueueFull));
        // Nothing is put off its place by an unconfirmed message but a notice, of which there is none.
        assert_eq!(world.hub.send(now, leaf, Class::Notice, &[7, leaf]), Err(SendError::QueueFull));
    }
    assert_eq!(world.hub.send(now, 7, Class::Report, &[7, 7]), Err(SendError::QueueFull), "24 places");
    world.run(world.now + 200_000, &mut heard);
    let mut of_leaf = vec![0; 9];
    for (leaf, ..) in &heard.0 {
        of_leaf[usize::from(*leaf)] += 1;
    }
    assert_eq!(of_leaf, [0, 4, 4, 4, 4, 4, 4, 0, 0]);
    assert!(world.hub.send(Instant::from_ticks(world.now), 7, Class::Report, &[7, 7]).is_ok());
}
