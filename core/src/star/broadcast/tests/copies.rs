//! Every order of sendings, copies, restarts and lapses up to a depth, with what only a ghost knows: which frame of which boot a copy is.
//!
//! Copies of every frame may arrive at any time, any number of times and in any order, until a lifetime has passed.

use super::*;

const DEPTH: u32 = 9;
const MOST_SENT: usize = 4;

/// A frame on its way, and what the receiver cannot see.
#[derive(Clone, Copy)]
struct Sent {
    boot: u32,
    number: u8,
    kind: u8,
}

#[derive(Clone)]
struct World {
    leaf: BroadcastReceiver,
    /// Of the hub.
    boot: u32,
    next: u8,
    /// Frames of the last lifetime, oldest first, after those that are dead.
    sent: Vec<Sent>,
    dead: usize,
    session: u32,
    /// The boot of the hub that told the leaf, and the first frame after that.
    told: u32,
    since: usize,
    /// The last frame taken of each kind, and those taken in all.
    newest: [Option<usize>; 2],
    restarts: u32,
}

/// What was looked at.
#[derive(Default)]
struct Seen {
    steps: u64,
    taken: u64,
    fresh: u64,
    refused: u64,
}

use std::vec::Vec;

impl World {
    fn number_of(boot: u32) -> u32 {
        HUB + boot
    }

    fn new(next: u8) -> Self {
        let leaf = leaf(LIFETIME, next);
        let (sent, newest) = (Vec::new(), [None; 2]);
        Self { leaf, boot: 0, next, sent, dead: 0, session: SESSION, told: 0, since: 0, newest, restarts: 0 }
    }

    /// The session opens anew, because the leaf was restarted or has noticed a restart of the hub; and the hub tells.
    fn reopen(&mut self) {
        self.session += 1;
        self.leaf.ended();
        self.leaf.opened(self.session);
        let told = Told { session: self.session, broadcast: Self::number_of(self.boot), next: self.next };
        assert!(self.leaf.handle_told(told));
        (self.told, self.since) = (self.boot, self.sent.len());
        self.newest = [None; 2];
    }

    fn send(&mut self, kind: u8) {
        self.sent.push(Sent { boot: self.boot, number: self.next, kind });
        self.next = self.next.wrapping_add(1);
    }

    /// A copy of a frame arrives.
    fn arrives(&mut self, index: usize, seen: &mut Seen) {
        let Sent { boot, number, kind } = self.sent[index];
        let payload = [kind, 1];
        let view = frame(Self::number_of(boot), Class::SetPoint, number, true, &payload);
        let newest = self.newest[usize::from(kind)];
        let is_fresh = index >= self.since && newest.is_none_or(|newest| index > newest) && boot == self.told;
        let taken = self.leaf.hear(&view).is_ok();
        assert_eq!(taken, is_fresh, "frame {index} of boot {boot}, number {number}");
        if taken {
            self.newest[usize::from(kind)] = Some(index);
            seen.taken += 1;
            seen.fresh += u64::from(index + 1 == self.sent.len());
        } else {
            seen.refused += 1;
        }
    }

    fn go_on(&self, depth: u32, seen: &mut Seen) {
        seen.steps += 1;
        if depth == 0 {
            return;
        }
        let mut then = |act: &dyn Fn(&mut Self, &mut Seen)| {
            let mut next = self.clone();
            act(&mut next, seen);
            next.go_on(depth - 1, seen);
        };
        if self.sent.len() < MOST_SENT {
            then(&|world, _| world.send(0));
            then(&|world, _| world.send(1));
        }
        for index in self.dead..self.sent.len() {
            then(&|world, seen| world.arrives(index, seen));
        }
        if self.restarts < 2 {
            // The hub restarts, and the leaf notices only later, or at once.
            then(&|world, _| {
                (world.boot, world.next, world.restarts) = (world.boot + 1, 0, world.restarts + 1);
            });
            then(&|world, _| {
                world.restarts += 1;
                world.reopen();
            });
        }
        if self.dead < self.sent.len() {
            then(&|world, _| {
                world.leaf.elapse(LIFETIME);
                world.dead = world.sent.len();
            });
        }
    }
}

/// A copy is taken exactly if it is newer than what was taken of its kind, of the boot that told, and sent after that.
#[test]
fn every_copy_is_taken_once_in_order_and_never_from_before_a_restart() {
    let mut seen = Seen::default();
    for next in [0, 127, 254] {
        World::new(next).go_on(DEPTH, &mut seen);
    }
    std::println!(
        "{} steps, {} copies taken ({} of the newest frame), {} refused",
        seen.steps,
        seen.taken,
        seen.fresh,
        seen.refused
    );
    assert!(seen.taken > 10_000 && seen.refused > 10_000);
}
