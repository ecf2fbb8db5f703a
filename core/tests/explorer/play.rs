//! Lets one thing happen.

use std::sync::Arc;

use bellwire::{
    frame::{Class, Kind},
    framing::Framing,
    link::When,
    time::{Duration, after},
};

use super::{
    act::Act,
    books::{ITEM, SET_POINT},
    breach::{Breach, Checked, Property, must},
    case::WrongWorld,
    diary::Side,
    sight::Sight,
    world::{Flying, World},
};

impl<F: Framing + Default, const W: usize> World<F, W> {
    /// Lets it happen, and checks what must hold.
    pub fn play(&mut self, act: Act) -> Checked {
        if let Some(diary) = &mut self.diary.0 {
            diary.next_step();
        }
        match act {
            Act::Deliver { to, at, stays } => self.deliver(to, at, stays),
            Act::Damage { to, at } => self.damage(to, at),
            Act::CutEnd { to } => self.cut_end(to),
            Act::Lose { to, at } => {
                let frame = self.take(to, at, false);
                if let Some(diary) = &mut self.diary.0 {
                    diary.lost(Side::of(to), &Sight::of::<F>(&frame.octets));
                }
                self.losses = self.losses.saturating_add(u8::from(self.case.0.punctual));
                Ok(())
            }
            Act::Wake(who) => self.wake(who),
            Act::Sleep(who) => {
                self.note(who, || "sleeps too long".into());
                let promised = self.case.0.keep_alive * 3 + 2_000_000;
                self.pass(who, after(self.now(who), Duration::from_ticks(promised)));
                self.boards[who].handle_timeout(self.now(who));
                self.serve(who, 0)
            }
            Act::End(who) => {
                self.note(who, || "ends the session".into());
                self.left.ends -= 1;
                let now = self.now(who);
                self.boards[who].close(now);
                self.boards[who].reopen(now);
                self.serve(who, 0)
            }
            Act::Lapse => {
                self.note(1, || "set-point lapses".into());
                let lapse = self.dome.as_ref().and_then(|dome| dome.dead_man.poll_wake());
                self.pass(1, lapse.expect("a set-point"));
                Ok(())
            }
            Act::Restart(who) => {
                self.note(who, || "RESTARTS".into());
                self.restart(who)
            }
            Act::Send(who, class) => {
                let left = if class == Class::Notice { &mut self.left.notices } else { &mut self.left.items };
                left[who] -= 1;
                self.send(who, class, ITEM, 0)
            }
            Act::SetPoint(value) => {
                self.left.set_points -= 1;
                self.note(0, || format!("set-point value {value}"));
                self.send(0, Class::SetPoint, SET_POINT, value)
            }
            Act::Rearm => {
                self.note(1, || "operator re-arms".into());
                let now = self.now(1);
                self.dome.as_mut().map_or(Ok(()), |dome| dome.rearm(now))
            }
            Act::Stream => self.stream(),
            Act::Outage => self.outage(),
            Act::Round => self.round(),
            Act::Nudge => self.nudge(),
        }?;
        self.check()
    }

    /// Takes a frame from the line, or a copy of it.
    fn take(&mut self, to: usize, at: usize, stays: bool) -> Flying {
        if stays { self.wires[to][at].clone() } else { self.wires[to].remove(at) }
    }

    pub fn deliver(&mut self, to: usize, at: usize, stays: bool) -> Checked {
        let frame = self.take(to, at, stays);
        self.arrives(to, &frame.octets, if stays { " +copy" } else { "" });
        if self.case.0.wrong == Some(WrongWorld::KeepsEarlyFrames) && to == 1 && self.keep_early(&frame) {
            return Ok(());
        }
        let fresh = self.fresh_set_point(to, &frame.octets);
        self.feed(to, &frame, &frame.octets)?;
        if let Some(number) = fresh {
            let taken = self.books.last_set_point(to) == number;
            must(taken, Property::FreshTaken, || format!("set-point {number} was refused"))?;
        }
        if self.is_up(to) {
            for frame in std::mem::take(&mut self.kept) {
                self.note(to, || "is given what was kept".into());
                self.feed(to, &frame, &frame.octets)?;
            }
        }
        Ok(())
    }

    fn arrives(&mut self, to: usize, octets: &Arc<[u8]>, how: &str) {
        if let Some(diary) = &mut self.diary.0 {
            diary.arrives(Side::of(to), &Sight::of::<F>(octets), how);
        }
    }

    /// A program that keeps what comes too early.
    fn keep_early(&mut self, frame: &Flying) -> bool {
        let early = !self.is_up(1) && Sight::of::<F>(&frame.octets).header.kind.in_session();
        if early {
            self.note(1, || "is down: keeps it".into());
            self.kept.push(frame.clone());
        }
        early
    }

    /// The number of a set-point that must be taken: of the open session, and newer than all before.
    fn fresh_set_point(&self, to: usize, octets: &[u8]) -> Option<u8> {
        self.dome.as_ref()?;
        let sight = Sight::of::<F>(octets);
        match *sight.payload {
            [SET_POINT, number, _] if sight.header.kind == Kind::SetPoint => {
                let here = self.books.is_of_session(to, number);
                Some(number).filter(|&number| here && number > self.books.last_set_point(to))
            }
            _ => None,
        }
    }

    /// Gives octets of a frame to a board, and serves it as the law asks.
    fn feed(&mut self, to: usize, frame: &Flying, octets: &[u8]) -> Checked {
        let mut rest = octets;
        let (mut age, mut era) = self.pending[to].take().unwrap_or((0, frame.era));
        while !rest.is_empty() {
            self.books.arriving = era;
            let done = self.boards[to].handle_octets(self.now(to), rest);
            rest = &rest[done..];
            self.serve(to, age)?;
            (age, era) = (0, frame.era);
        }
        self.books.arriving = 0;
        Ok(())
    }

    /// One octet in the middle is another one; it does not become a delimiter.
    fn damage(&mut self, to: usize, at: usize) -> Checked {
        let frame = self.take(to, at, false);
        self.arrives(to, &frame.octets, " damaged");
        self.losses = self.losses.saturating_add(u8::from(self.case.0.punctual));
        let mut octets = frame.octets.to_vec();
        let middle = octets.len() / 2;
        let octet = &mut octets[middle];
        *octet ^= if *octet == 0x10 { 0x20 } else { 0x10 };
        self.feed(to, &frame, &octets)
    }

    fn cut_end(&mut self, to: usize) -> Checked {
        self.left.cut_ends -= 1;
        let frame = self.take(to, 0, false);
        self.arrives(to, &frame.octets, " no end");
        self.losses = self.losses.saturating_add(u8::from(self.case.0.punctual));
        let (_, octets) = frame.octets.split_last().expect("octets");
        self.feed(to, &frame, octets)?;
        self.pending[to] = Some((0, frame.era));
        Ok(())
    }

    pub fn wake(&mut self, who: usize) -> Checked {
        let wake = self.boards[who].poll_wake();
        self.note(who, || format!("timer: {:?}", wake.reason).to_lowercase());
        if let When::At(at) = wake.when {
            self.pass(who, at);
        }
        self.due(who)
    }

    /// A board is served now, for its timers.
    pub fn due(&mut self, who: usize) -> Checked {
        self.boards[who].handle_timeout(self.now(who));
        self.serve(who, 0)?;
        let wake = self.boards[who].poll_wake();
        if wake.when == When::Now {
            return Err(Breach::new(Property::WakeUp, format!("it spins: {:?}", wake.reason)));
        }
        Ok(())
    }
}
