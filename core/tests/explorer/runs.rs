//! Long runs that count as one step: what needs hundreds of frames.

use bellwire::{
    frame::Class,
    framing::Framing,
    link::{WakeReason, When},
    time::{Duration, after},
};

use super::{
    books::{NUDGE, SET_POINT, STREAM},
    breach::{Breach, Checked, Property, must},
    case::Time,
    world::World,
};

/// Errands of a stream: five of them and one more bring the numbers round.
const STREAM_LEN: u8 = 51;

/// Lost set-points of an outage: more than half the numbers.
const OUTAGE_LEN: u8 = 130;

/// When an open board sends its next message by itself, µs.
const LATER: u32 = 3_000_000;

impl<F: Framing + Default, const W: usize> World<F, W> {
    /// 51 errands, one after the other, none lost; whatever else is under way waits.
    pub fn stream(&mut self) -> Checked {
        self.left.streams -= 1;
        self.note(0, || format!("{STREAM_LEN} more errands"));
        self.aside(|world| {
            world.books.stream = Some(0);
            for place in 0..STREAM_LEN {
                let now = world.now(0);
                let accepted = world.boards[0].send(now, Class::Errand, &[STREAM, place]).is_ok();
                must(accepted, Property::Memory, || "an empty queue refuses an errand".into())?;
                world.serve(0, 0)?;
                world.until(|world| world.books.stream == Some(place + 1))?;
            }
            world.books.stream = None;
            Ok(())
        })
    }

    /// Delivers and wakes until it is so, with nothing under way.
    fn until(&mut self, done: impl Fn(&Self) -> bool) -> Checked {
        for _ in 0..100 {
            while let Some(to) = (0..2).find(|&to| !self.wires[to].is_empty()) {
                self.deliver(to, 0, false)?;
            }
            if done(self) {
                return Ok(());
            }
            self.wake(0)?;
        }
        Err(Breach::new(Property::Heals, "an errand does not arrive although nothing is lost"))
    }

    /// 130 set-points that are all lost, as fast as they may be sent.
    pub fn outage(&mut self) -> Checked {
        self.left.outages -= 1;
        self.note(0, || format!("{OUTAGE_LEN} set-points, lost"));
        self.aside(|world| {
            for _ in 0..OUTAGE_LEN {
                let now = world.now(0);
                let _ = world.boards[0].send(now, Class::SetPoint, &[SET_POINT, 0, 0]);
                world.serve(0, 0)?;
                while world.boards[0].poll_wake().reason == WakeReason::SetPoint {
                    world.wake(0)?;
                }
                world.wires[1].clear();
            }
            Ok(())
        })
    }

    /// Plays something on an empty line and without a diary; frames that were under way wait, and age.
    fn aside(&mut self, play: impl FnOnce(&mut Self) -> Checked) -> Checked {
        let wires = std::mem::take(&mut self.wires);
        let diary = self.diary.0.take();
        let before = self.clocks.0[0];
        let played = play(self);
        let span = self.clocks.0[0].wrapping_sub(before);
        self.wires = wires;
        self.diary.0 = diary;
        if let Some(lifetime) = self.case.0.real_lifetime() {
            for wire in &mut self.wires {
                wire.iter_mut().for_each(|frame| frame.age = frame.age.saturating_add(span));
                wire.retain(|frame| frame.age <= lifetime);
            }
        }
        played
    }

    /// Both boards are served when they asked for it.
    pub fn round(&mut self) -> Checked {
        let together = self.case.0.time != Time::Free;
        if together {
            self.skip_to_a_wake();
        }
        for who in 0..2 {
            match self.boards[who].poll_wake().when {
                // Its clock goes on too: a gate that lets one answer pass a while opens again.
                When::Idle if !together => self.pass(who, after(self.now(who), Duration::from_ticks(LATER))),
                When::Idle => {}
                When::At(_) if together => {}
                When::At(_) | When::Now => self.wake(who)?,
            }
        }
        Ok(())
    }

    /// A while later each open board sends a notice, and boards are served.
    pub fn nudge(&mut self) -> Checked {
        for who in 0..2 {
            self.pass(who, after(self.now(who), Duration::from_ticks(LATER)));
            self.boards[who].handle_timeout(self.now(who));
            if self.is_up(who) {
                let now = self.now(who);
                let _ = self.boards[who].send(now, Class::Notice, &[NUDGE]);
                self.note(who, || "later: a notice".into());
            }
            self.serve(who, 0)?;
        }
        Ok(())
    }

    /// The one clock goes to the first wake-up of either board.
    fn skip_to_a_wake(&mut self) {
        let now = self.now(0);
        let left = |who: usize| match self.boards[who].poll_wake().when {
            When::Now => Some(0),
            When::At(at) => Some(at.as_ticks().wrapping_sub(now.as_ticks())),
            When::Idle => None,
        };
        if let Some(span) = left(0).into_iter().chain(left(1)).min() {
            self.pass(0, after(now, Duration::from_ticks(span)));
        }
    }
}
