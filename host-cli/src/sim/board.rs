//! A board in the network: a link of the real core on port 0, and a program.

use super::moment::Moment;
use super::node::Node;
use crate::machine::Machine;
use bellwire::link::{Event, When};

/// What a board does with its link. It is called by the law of the core's loop: all events first, then it may command the link.
pub trait Program {
    /// The link told something.
    fn event(&mut self, now: Moment, event: &Event<'_>);

    /// May command the link, and does what else is due. Called after each input and each wake-up.
    fn work(&mut self, now: Moment, link: &mut dyn Machine);

    /// When the program wants to be called again, if nothing happens before.
    fn wake(&self) -> Option<Moment>;

    /// Something that a person or the world does to the board.
    fn act(&mut self, _now: Moment, _act: u32) {}

    /// Octets that the program puts on the line beside its link, for instance what a boot loader prints; none most of the time.
    fn take_raw(&mut self) -> Option<Vec<u8>> {
        None
    }

    /// The board starts, for the first time or anew: everything in the program's memory is to be forgotten. Gives the new link, and
    /// when the board is ready to serve it.
    fn start(&mut self, now: Moment) -> (Box<dyn Machine>, Moment);
}

/// A board: a [`Program`] and its link.
pub struct Board<P> {
    program: P,
    link: Box<dyn Machine>,
    ready: Moment,
    now: Moment,
    starts: u32,
    frame: Vec<u8>,
}

impl<P: Program> Board<P> {
    /// A board that is switched on at the start of time.
    #[must_use]
    pub fn new(mut program: P) -> Self {
        let (link, ready) = program.start(Moment::START);
        let frame = vec![0; link.max_transmit()];
        Self { program, link, ready, now: Moment::START, starts: 1, frame }
    }

    /// Its program.
    #[must_use]
    pub const fn program(&self) -> &P {
        &self.program
    }

    /// Its program, to change it from outside.
    pub const fn program_mut(&mut self) -> &mut P {
        &mut self.program
    }

    /// Its link.
    #[must_use]
    pub fn link(&self) -> &dyn Machine {
        &*self.link
    }

    /// How often it was started.
    #[must_use]
    pub const fn starts(&self) -> u32 {
        self.starts
    }

    fn is_ready(&mut self, now: Moment) -> bool {
        self.now = now;
        now >= self.ready
    }

    fn drain(&mut self, now: Moment) {
        while let Some(event) = self.link.poll_event() {
            self.program.event(now, &event);
        }
    }

    fn serve(&mut self, now: Moment) {
        self.drain(now);
        self.program.work(now, &mut *self.link);
        self.drain(now);
    }
}

impl<P: Program> Node for Board<P> {
    fn arrived(&mut self, now: Moment, _port: usize, octets: &[u8]) {
        if !self.is_ready(now) {
            return;
        }
        let mut rest = octets;
        let mut idle = 0;
        while !rest.is_empty() && idle < 2 {
            self.drain(now);
            let consumed = self.link.handle_octets(now.instant(), rest);
            idle = if consumed == 0 { idle + 1 } else { 0 };
            rest = rest.get(consumed..).unwrap_or_default();
        }
        assert!(rest.is_empty(), "a link without a waiting event takes octets");
        self.serve(now);
    }

    fn woken(&mut self, now: Moment) {
        if self.is_ready(now) {
            self.link.handle_timeout(now.instant());
            self.serve(now);
        }
    }

    fn transmit(&mut self, now: Moment, _port: usize, unsent: usize, out: &mut Vec<u8>) -> bool {
        if !self.is_ready(now) {
            return false;
        }
        if let Some(raw) = self.program.take_raw() {
            out.extend(raw);
            return true;
        }
        self.link.handle_unsent(now.instant(), unsent);
        let len = self.link.poll_transmit(now.instant(), &mut self.frame);
        self.drain(now);
        let Some(octets) = len.and_then(|len| self.frame.get(..len)) else { return false };
        out.extend_from_slice(octets);
        true
    }

    fn wake(&self) -> Option<Moment> {
        if self.now < self.ready {
            return Some(self.ready);
        }
        let link = match self.link.poll_wake().when {
            When::Now => Some(self.now),
            When::At(at) => Some(self.now.of(at)),
            When::Idle => None,
        };
        match (link, self.program.wake()) {
            (Some(link), Some(program)) => Some(link.min(program)),
            (link, program) => link.or(program),
        }
    }

    fn restart(&mut self, now: Moment) {
        (self.link, self.ready) = self.program.start(now);
        self.frame = vec![0; self.link.max_transmit()];
        self.starts += 1;
        self.now = now;
    }

    fn act(&mut self, now: Moment, act: u32) {
        if self.is_ready(now) {
            self.program.act(now, act);
            self.serve(now);
        }
    }
}
