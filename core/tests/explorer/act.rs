//! What can happen next.

use bellwire::{
    frame::Class,
    framing::Framing,
    link::{State, WakeReason, When},
};

use super::world::World;

/// One thing that happens. Boards: 0 is the desk, 1 the dome.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Act {
    /// The so-manyth frame on its way to a board arrives; a copy may stay behind.
    Deliver {
        to: usize,
        at: usize,
        stays: bool,
    },
    /// It arrives damaged.
    Damage {
        to: usize,
        at: usize,
    },
    /// It arrives without its closing delimiter.
    CutEnd {
        to: usize,
    },
    Lose {
        to: usize,
        at: usize,
    },
    /// A board is served when it asked for it.
    Wake(usize),
    /// A board is not served before its peer has been silent for too long.
    Sleep(usize),
    /// A board's program ends the session and opens the next.
    End(usize),
    /// Time goes on to where the dome's set-point is fresh no longer.
    Lapse,
    Restart(usize),
    Send(usize, Class),
    SetPoint(u8),
    /// The dome's operator lets set-points drive again.
    Rearm,
    /// 51 errands from the desk, without loss.
    Stream,
    /// 130 set-points from the desk, all lost.
    Outage,
    /// Both boards are served when they asked for it, with nothing under way.
    Round,
    /// Some time later, open boards send a notice.
    Nudge,
}

impl<F: Framing + Default, const W: usize> World<F, W> {
    /// Everything that can happen next.
    pub fn acts(&self) -> Vec<Act> {
        let mut acts = vec![];
        for who in 0..2 {
            self.line_acts(who, &mut acts);
            self.board_acts(who, &mut acts);
        }
        self.dome_acts(&mut acts);
        let quiet = self.wires.iter().all(Vec::is_empty);
        // A stream matters to copies only.
        let copies = !self.wires[1].is_empty() && !F::ORDERED;
        let done = self.left.items[0] == 0 && self.books.waiting(0) == 0;
        if self.left.streams > 0 && copies && done && self.is_one() {
            acts.push(Act::Stream);
        }
        if quiet && !self.is_settled() && !self.is_stuck() {
            acts.push(Act::Round);
        }
        acts
    }

    /// What can happen next if nothing is lost, damaged or doubled and timers are fair: all of it must lead to health.
    pub fn fair_acts(&self) -> Vec<Act> {
        let mut acts = vec![];
        if self.is_settled() {
            return acts;
        }
        for to in 0..2 {
            acts.extend((0..self.reach(to)).map(|at| Act::Deliver { to, at, stays: false }));
        }
        if acts.is_empty() {
            acts.push(if self.is_stuck() { Act::Nudge } else { Act::Round });
        }
        acts
    }

    /// Nothing is under way and both boards wait for nothing, yet not all is well. Without keep-alives a half-open session shows at the
    /// next message, whose number makes a new state each time: so what follows is followed at once, and not explored.
    pub fn is_stuck(&self) -> bool {
        let idle = self.boards.iter().all(|board| board.poll_wake().when == When::Idle);
        idle && self.wires.iter().all(Vec::is_empty) && !self.is_settled()
    }

    /// How many of the frames on their way may arrive next.
    fn reach(&self, to: usize) -> usize {
        let frames = self.wires[to].len();
        if F::ORDERED { frames.min(1) } else { frames }
    }

    fn line_acts(&self, to: usize, acts: &mut Vec<Act>) {
        let case = self.case.0;
        for at in 0..self.reach(to) {
            acts.push(Act::Deliver { to, at, stays: false });
            let may_fail = !case.calm && (!case.punctual || self.losses + 1 < case.tries);
            if may_fail {
                acts.push(Act::Lose { to, at });
            }
            if may_fail && case.damage {
                acts.push(Act::Damage { to, at });
            }
            if may_fail && self.left.cut_ends > 0 {
                acts.push(Act::CutEnd { to });
            }
            if !F::ORDERED && !case.punctual && !case.calm {
                acts.push(Act::Deliver { to, at, stays: true });
            }
        }
    }

    fn board_acts(&self, who: usize, acts: &mut Vec<Act>) {
        let left = &self.left;
        if self.may_wake(who) {
            acts.push(Act::Wake(who));
        }
        if left.restarts[who] > 0 {
            acts.push(Act::Restart(who));
        }
        if !self.is_up(who) {
            return;
        }
        if left.silences > 0 {
            acts.push(Act::Sleep(who));
        }
        if left.ends > 0 {
            acts.push(Act::End(who));
        }
        // A frame that meets a link which is not open yet is as good as lost.
        let sure = self.is_one() || !self.case.0.punctual;
        if left.items[who] > 0 && sure {
            acts.extend([Act::Send(who, Class::Errand), Act::Send(who, Class::Report)]);
        }
        if left.notices[who] > 0 {
            acts.push(Act::Send(who, Class::Notice));
        }
    }

    fn may_wake(&self, who: usize) -> bool {
        let wake = self.boards[who].poll_wake();
        let under_way = self.wires.iter().any(|wire| !wire.is_empty());
        let too_early = self.case.0.punctual && under_way;
        // The next silence would end the session.
        let ends = wake.reason == WakeReason::Silence && self.boards[who].state() == State::Quiet;
        wake.when != When::Idle && !too_early && !(ends && self.left.silences == 0)
    }

    fn dome_acts(&self, acts: &mut Vec<Act>) {
        let Some(dome) = &self.dome else { return };
        if self.left.set_points > 0 && self.is_up(0) {
            acts.extend([Act::SetPoint(0), Act::SetPoint(1)]);
        }
        if dome.can_rearm(self.now(1)) {
            acts.push(Act::Rearm);
        }
        if dome.dead_man.poll_wake().is_some() {
            acts.push(Act::Lapse);
        }
        if self.left.outages > 0 && self.is_one() {
            acts.push(Act::Outage);
        }
    }
}
