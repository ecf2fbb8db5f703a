//! A bench in virtual time: two boards, each an ordinary function on a thread of its own, and what lies between them.
//!
//! Only one board runs at a time, always the one whose clock is behind, and a clock moves only when its board looks at it or waits. So a lesson
//! does not depend on the speed of the laptop, and comes out the same every time.

mod air;
mod clock;
pub mod show;
mod wire;

use std::{
    convert::Infallible,
    sync::{Arc, Mutex},
    thread,
    time::Duration as StdDuration,
};

pub use air::Air;
pub use clock::Clock;
pub use wire::Wire;

use clock::Turns;
use wire::Lane;

/// Why a board's program came to its end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Halt {
    /// The board was reset; its program starts again.
    Reset,
    /// The lesson is over.
    Over,
}

/// What goes wrong, in milliseconds of virtual time.
#[derive(Debug, Clone, Default)]
pub struct Plan {
    /// When the lesson is over.
    pub end: u32,
    /// From when to when the wire is cut, both ways.
    pub cut: Option<(u32, u32)>,
    /// When board 0 and board 1 are reset.
    pub resets: [Option<u32>; 2],
    /// Each n-th datagram is lost; 0: none.
    pub lose_each: u32,
}

/// Two boards' clocks, and the lanes between them.
#[derive(Debug, Clone)]
pub struct Bench {
    turns: Arc<Turns>,
    lanes: Arc<Mutex<[Lane; 2]>>,
    plan: Plan,
}

impl Bench {
    /// A bench on which `plan` goes wrong.
    #[must_use]
    pub fn new(plan: Plan) -> Self {
        Self { turns: Arc::default(), lanes: Arc::default(), plan }
    }

    /// The clock of a board, 0 or 1.
    #[must_use]
    pub fn clock(&self, board: usize) -> Clock {
        Clock::new(Arc::clone(&self.turns), board)
    }

    /// The end of the wire at a board, 0 or 1, for one start of its program.
    #[must_use]
    pub fn wire(&self, board: usize) -> Wire {
        Wire::new(self, board)
    }

    /// The radio of a board, 0 or 1, for one start of its program.
    #[must_use]
    pub fn air(&self, board: usize) -> Air {
        Air::new(self, board)
    }

    /// Tells something that happened at a board, with its time.
    pub fn say(&self, board: usize, what: &str) {
        let now = self.turns.at(board);
        if now >= milliseconds(self.plan.end) {
            return;
        }
        println!("{:>8.3} s  {what}", now.as_secs_f64());
    }

    /// Runs both boards until the lesson is over. A board whose program ends by [`Halt::Reset`] starts again; the number handed to it
    /// counts its starts from 0.
    ///
    /// # Panics
    /// If a program panics.
    pub fn run<A, B>(&self, first: A, second: B)
    where
        A: Fn(u32) -> Result<Infallible, Halt> + Send,
        B: Fn(u32) -> Result<Infallible, Halt> + Send,
    {
        thread::scope(|scope| {
            scope.spawn(|| self.power(0, first));
            scope.spawn(|| self.power(1, second));
        });
    }

    fn power(&self, board: usize, program: impl Fn(u32) -> Result<Infallible, Halt>) {
        let clock = self.clock(board);
        let _gone = clock.leave_at_the_end();
        for start in 0.. {
            clock.begin();
            if program(start) == Err(Halt::Over) {
                return;
            }
            self.say(
                board,
                if board == 0 { "reset of the first board" } else { "reset of the second board" },
            );
        }
    }

    /// Whether the program of `board`, started at `since`, must stop now.
    fn halt(&self, board: usize, since: StdDuration) -> Result<(), Halt> {
        let now = self.turns.at(board);
        if now >= milliseconds(self.plan.end) {
            return Err(Halt::Over);
        }
        match self.plan.resets.get(board).copied().flatten().map(milliseconds) {
            Some(reset) if since < reset && reset <= now => Err(Halt::Reset),
            _ => Ok(()),
        }
    }

    /// Whether the wire is cut at this time.
    fn is_cut(&self, at: StdDuration) -> bool {
        self.plan.cut.is_some_and(|(from, to)| (milliseconds(from)..milliseconds(to)).contains(&at))
    }
}

const fn milliseconds(count: u32) -> StdDuration {
    StdDuration::from_millis(count as u64)
}
