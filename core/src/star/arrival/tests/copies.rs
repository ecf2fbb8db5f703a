//! Every order of starts, copies and pauses up to a depth, with what only a ghost knows: which start a copy is of.

use super::*;
use std::{println, vec::Vec};

const DEPTH: u32 = 10;
/// Span and L, in seconds.
const SPAN: u32 = 2;
const LIFETIME: u32 = 1;

/// A start of the leaf: when it sent first and last, and how often its report was taken.
#[derive(Clone, Copy)]
struct Start {
    first: u32,
    sent: u32,
    taken: u32,
}

#[derive(Clone)]
struct World {
    hub: Arrivals<2>,
    now: u32,
    starts: Vec<Start>,
    numberless: bool,
}

#[derive(Default)]
struct Seen {
    taken: u64,
    repeats: u64,
    no_room: u64,
}

impl World {
    /// A copy of the report of a start comes.
    fn arrives(&mut self, index: usize, seen: &mut Seen) {
        let mine = u32::try_from(index).unwrap() + 1;
        let arrival = Arrival {
            mine,
            numberless: self.numberless,
            cause: ResetCause::Wake,
            fingerprint: 0,
            payload: &[7],
        };
        match self.hub.handle(2, &arrival, self.now) {
            Ok(Fresh::New) => {
                self.starts[index].taken += 1;
                seen.taken += 1;
            }
            Ok(Fresh::Repeat) => {
                assert_eq!(self.starts[index].taken, 1, "a repeat of what was never taken is lost");
                seen.repeats += 1;
            }
            Err(NotArrived::NoRoom) => {
                assert_eq!(self.starts[index].taken, 0);
                // Remembered are two at most, and for 5 s at most.
                let heard = self.starts.iter().filter(|start| start.taken > 0 && self.now - start.sent <= 5);
                assert!(heard.count() >= 2, "two others were taken");
                seen.no_room += 1;
            }
            Err(other) => panic!("{other:?}"),
        }
        assert!(self.starts[index].taken <= 1, "twice");
    }

    fn go_on(&self, depth: u32, seen: &mut Seen) {
        if depth == 0 {
            return;
        }
        let mut then = |act: &dyn Fn(&mut Self, &mut Seen)| {
            let mut next = self.clone();
            act(&mut next, seen);
            next.go_on(depth - 1, seen);
        };
        // A numberless leaf keeps quiet after each start for the span, two lifetimes and more than 2 s; one that has a number starts when it likes.
        let quiet = self.starts.last().is_none_or(|start| self.now > start.sent + SPAN + 2 * LIFETIME + 2);
        if self.starts.len() < 4 && (quiet || !self.numberless) {
            then(&|world, seen| {
                world.starts.push(Start { first: world.now, sent: world.now, taken: 0 });
                world.arrives(world.starts.len() - 1, seen);
            });
            then(&|world, _| world.starts.push(Start { first: world.now, sent: world.now, taken: 0 }));
        }
        for (index, start) in self.starts.iter().enumerate() {
            if self.now <= start.sent + LIFETIME {
                then(&|world, seen| world.arrives(index, seen));
            }
        }
        // It sends again; the copies live on.
        if self.starts.last().is_some_and(|last| last.sent < self.now && self.now <= last.first + SPAN) {
            then(&|world, _| {
                let now = world.now;
                world.starts.last_mut().unwrap().sent = now;
            });
        }
        for span in [1, 4] {
            then(&|world, _| world.now += span);
        }
    }
}

#[test]
fn every_report_is_taken_at_most_once_and_a_repeat_only_after_it() {
    for numberless in [false, true] {
        let mut seen = Seen::default();
        let hub = Arrivals::new(0, ms(SPAN * 1_000), ms(LIFETIME * 1_000));
        World { hub, now: 100, starts: Vec::new(), numberless }
            .go_on(DEPTH - u32::from(!numberless), &mut seen);
        let Seen { taken, repeats, no_room } = seen;
        println!("numberless {numberless}: {taken} taken, {repeats} repeats, {no_room} without room");
        assert!(taken > 10_000 && repeats > 10_000 && (no_room > 1_000 || numberless));
    }
}
