//! Two boards, the frames between them, and the books: one state of the exploration.

use std::{
    hash::{Hash, Hasher},
    sync::Arc,
};

use bellwire::{
    fcs::Fcs16,
    frame::Class,
    framing::Framing,
    link::{Config, EndReason, Event, Link, OwnNumber, State, When},
    time::{Duration, Instant},
};

use super::{
    books::{Books, Scene},
    breach::{Checked, Property, must},
    case::{Case, Left, Time, WrongWorld},
    diary::{Diary, Side},
    dome::{Dome, LIMIT},
    sight::Sight,
};

/// Items that wait or are under way at a board.
pub const QUEUE: usize = 3;

pub type Board<F, const W: usize> = Link<F, Fcs16, 48, W, QUEUE>;

/// Not part of the compared state.
#[derive(Debug, Clone)]
pub struct Beside<T>(pub T);

impl<T> Hash for Beside<T> {
    fn hash<H: Hasher>(&self, _: &mut H) {}
}

/// A frame on its way.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Flying {
    pub octets: Arc<[u8]>,
    /// The era of its sender.
    pub era: u8,
    /// Since it left, µs; stays 0 where frames live for ever.
    pub age: u32,
}

#[derive(Debug, Clone, Hash)]
pub struct World<F: Framing, const W: usize> {
    pub boards: [Board<F, W>; 2],
    /// Frames on their way to each board.
    pub wires: [Vec<Flying>; 2],
    pub left: Left,
    pub books: Books,
    pub dome: Option<Dome>,
    /// How long ago the first octets of an unfinished candidate came to each board, µs, and the era of its sender.
    pub pending: [Option<(u32, u8)>; 2],
    /// Messages that a wrong program keeps for a link that is down.
    pub kept: Vec<Flying>,
    /// Frames lost while an item waits for its outcome.
    pub losses: u8,
    lives: [u8; 2],
    /// Each board's clock, µs: boards keep the time that is left, so states repeat.
    pub clocks: Beside<[u32; 2]>,
    pub case: Beside<&'static Case>,
    pub diary: Beside<Option<Diary>>,
}

fn make<F: Framing + Default, const W: usize>(case: &Case, who: usize, life: u8, now: u32) -> Board<F, W> {
    let stored = [1_000, 2_000][who] + case.step * u32::from(life);
    let own = if case.numberless[who] { OwnNumber::Numberless } else { OwnNumber::Stored(stored) };
    let config = Config {
        octet_rate: 0,
        keep_alive: Duration::from_ticks(case.keep_alive),
        tries: case.tries,
        lifetime: Duration::from_ticks(case.stated_lifetime()),
        jitter_seed: 0,
        ..Config::uart(0, own)
    };
    Link::new(F::default(), config, Instant::from_ticks(now))
}

impl<F: Framing + Default, const W: usize> World<F, W> {
    /// Both boards have just started.
    pub fn new(case: &'static Case, diary: Option<Diary>) -> Result<Self, super::Breach> {
        let mut world = Self {
            boards: [make(case, 0, 0, 0), make(case, 1, 0, 0)],
            wires: [vec![], vec![]],
            left: case.left,
            books: Books::default(),
            dome: (case.left.set_points > 0).then(Dome::new),
            pending: [None; 2],
            kept: vec![],
            losses: 0,
            lives: [0; 2],
            clocks: Beside([0; 2]),
            case: Beside(case),
            diary: Beside(diary),
        };
        world.serve(0, 0)?;
        world.serve(1, 0)?;
        Ok(world)
    }

    pub fn now(&self, who: usize) -> Instant {
        Instant::from_ticks(self.clocks.0[who])
    }

    pub fn is_up(&self, who: usize) -> bool {
        self.boards[who].state() != State::Down
    }

    /// Both are up in one session.
    pub fn is_one(&self) -> bool {
        let [desk, dome] = self.books.sessions;
        desk.zip(dome).is_some_and(|(desk, dome)| desk == (dome.1, dome.0))
    }

    /// Nothing is under way, both are up in one session, and every item has had its outcome.
    pub fn is_settled(&self) -> bool {
        let told = (0..2).all(|who| self.books.waiting(who) == 0);
        told && self.is_one() && self.wires.iter().all(Vec::is_empty)
    }

    pub fn note(&mut self, who: usize, words: impl FnOnce() -> String) {
        if let Some(diary) = &mut self.diary.0 {
            diary.note(Side::of(who), words());
        }
    }

    /// Drains a board as the law asks, and checks what it tells. The first octets of a message came `age` µs ago.
    pub fn serve(&mut self, who: usize, age: u32) -> Checked {
        loop {
            let case = self.case.0;
            let scene = Scene { who, punctual: case.punctual, ordered: F::ORDERED };
            let now = self.now(who);
            let Some(event) = self.boards[who].poll_event() else { break };
            if let Some(diary) = &mut self.diary.0 {
                diary.tell(Side::of(who), &event, self.books.number(who, &event));
            }
            if let Some(dome) = self.dome.as_mut().filter(|_| who == 1) {
                let stamp = match &event {
                    Event::Message(message) if case.wrong != Some(WrongWorld::LateStamp) => message.arrived,
                    _ => now,
                };
                let deaf = case.wrong == Some(WrongWorld::DeafDeadMan);
                dome.hear(&event, stamp, age, self.books.sessions[1], deaf);
            }
            if matches!(event, Event::Ended(EndReason::Silence)) {
                self.left.silences = self.left.silences.saturating_sub(1);
            }
            self.books.hear(&scene, &event)?;
        }
        self.transmit(who);
        Ok(())
    }

    /// Takes frames from a board and puts them on the line; a third one is lost, and so are all frames of a stream or an outage.
    fn transmit(&mut self, who: usize) {
        let mut out = [0; 80];
        while let Some(len) = self.boards[who].poll_transmit(self.now(who), &mut out) {
            let octets = &out[..len];
            let sight = Sight::of::<F>(octets);
            if sight.header.kind.class().is_some() {
                self.books.goes_onto_the_line(&sight.payload);
            }
            let room = self.wires[1 - who].len() < 2 || self.case.0.punctual;
            if let Some(diary) = &mut self.diary.0 {
                diary.leaves(Side::of(who), &sight, room);
            }
            if room {
                let own = self.boards[who].own_number();
                let era = self.books.era(who, sight.open.is_some_and(|open| open.mine != own));
                self.wires[1 - who].push(Flying { octets: octets.into(), era, age: 0 });
                self.sort();
            }
        }
    }

    /// Where order does not count, states that differ in it are one.
    pub fn sort(&mut self) {
        if !F::ORDERED {
            self.wires.iter_mut().for_each(|wire| wire.sort());
        }
    }

    /// A board's clock, or the one clock, goes to `at`.
    pub fn pass(&mut self, who: usize, at: Instant) {
        let span = at.as_ticks().wrapping_sub(self.clocks.0[who]);
        let together = self.case.0.time != Time::Free;
        for board in 0..2 {
            if board == who || together {
                self.clocks.0[board] = self.clocks.0[board].wrapping_add(span);
                let now = self.now(board);
                // So that the time left is what is compared, not when it was last looked at.
                self.boards[board].handle_unsent(now, 0);
                self.pending[board] =
                    self.pending[board].map(|(age, era)| (age.saturating_add(span).min(LIMIT), era));
                if let Some(dome) = self.dome.as_mut().filter(|_| board == 1) {
                    dome.elapse(span);
                }
            }
        }
        if let Some(lifetime) = self.case.0.real_lifetime() {
            for wire in &mut self.wires {
                wire.iter_mut().for_each(|frame| frame.age = frame.age.saturating_add(span));
                wire.retain(|frame| frame.age <= lifetime);
            }
        }
    }

    /// A board starts anew.
    pub fn restart(&mut self, who: usize) -> Checked {
        self.left.restarts[who] -= 1;
        self.lives[who] += 1;
        self.boards[who] = make(self.case.0, who, self.lives[who], self.clocks.0[who]);
        self.books.restart(who);
        self.pending[who] = None;
        if who == 1 {
            self.dome = self.dome.as_ref().map(|_| Dome::new());
        }
        self.serve(who, 0)
    }

    /// A board accepts a message, which names its place in the books.
    pub fn send(&mut self, who: usize, class: Class, kind: u8, value: u8) -> Checked {
        let (number, now) = (self.books.next(), self.now(who));
        let payload = [kind, number, value];
        if let Ok(ticket) = self.boards[who].send(now, class, &payload) {
            self.books.accept(who, class, ticket.get());
            self.note(who, || format!("sends {} {number}", class.name()));
        }
        let waiting = self.books.waiting(who);
        must(waiting <= QUEUE, Property::Memory, || format!("{waiting} items wait in a queue of {QUEUE}"))?;
        self.serve(who, 0)
    }

    /// What must hold after every step.
    pub fn check(&mut self) -> Checked {
        for who in 0..2 {
            let idle = self.boards[who].poll_wake().when == When::Idle;
            let done = self.is_up(who) && self.books.waiting(who) == 0;
            must(!idle || done, Property::WakeUp, || {
                format!("the {} waits for nothing, and is not done", ["desk", "dome"][who])
            })?;
        }
        if self.books.waiting(0) + self.books.waiting(1) == 0 {
            self.losses = 0;
        }
        let (now, session) = (self.now(1), self.books.sessions[1]);
        self.dome.as_mut().map_or(Ok(()), |dome| dome.check(now, session))
    }
}
