//! Clocks of two boards, and whose turn it is.

use std::{
    sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError},
    time::Duration as StdDuration,
};

use bellwire::time::{Duration, Instant};

/// What a look at the clock costs: one turn of a board's loop takes a few of these.
const LOOK: StdDuration = StdDuration::from_micros(20);

/// Both clocks; `None` once a board has left.
#[derive(Debug)]
pub(super) struct Turns {
    clocks: Mutex<[Option<StdDuration>; 2]>,
    moved: Condvar,
}

impl Default for Turns {
    fn default() -> Self {
        Self { clocks: Mutex::new([Some(StdDuration::ZERO); 2]), moved: Condvar::new() }
    }
}

impl Turns {
    fn clocks(&self) -> MutexGuard<'_, [Option<StdDuration>; 2]> {
        self.clocks.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The clock of a board, without moving it.
    pub(super) fn at(&self, board: usize) -> StdDuration {
        self.clocks().get(board).copied().flatten().unwrap_or_default()
    }

    /// Moves the clock of a board and waits until it is the one behind.
    fn spend(&self, board: usize, span: StdDuration) {
        let mut clocks = self.clocks();
        if let Some(Some(clock)) = clocks.get_mut(board) {
            *clock += span;
        }
        self.moved.notify_all();
        while !is_behind(&clocks, board) {
            clocks = self.moved.wait(clocks).unwrap_or_else(PoisonError::into_inner);
        }
    }

    fn leave(&self, board: usize) {
        if let Some(clock) = self.clocks().get_mut(board) {
            *clock = None;
        }
        self.moved.notify_all();
    }
}

/// Whether it is this board's turn: its clock is behind the other's; of two equal clocks the first board's.
fn is_behind(clocks: &[Option<StdDuration>; 2], board: usize) -> bool {
    match *clocks {
        [Some(first), Some(second)] => (board == 0) == (first <= second),
        _ => true,
    }
}

/// The clock of one board.
#[derive(Debug, Clone)]
pub struct Clock {
    turns: Arc<Turns>,
    board: usize,
}

impl Clock {
    pub(super) const fn new(turns: Arc<Turns>, board: usize) -> Self {
        Self { turns, board }
    }

    /// A look at the clock. It costs 20 µs, and the other board runs meanwhile.
    #[must_use]
    pub fn tick(&self) -> Instant {
        self.turns.spend(self.board, LOOK);
        instant(self.turns.at(self.board))
    }

    /// Sleeps.
    pub fn sleep(&self, span: Duration) {
        self.turns.spend(self.board, StdDuration::from_micros(u64::from(span.as_ticks())));
    }

    /// Time since the start of the lesson.
    #[must_use]
    pub fn at(&self) -> StdDuration {
        self.turns.at(self.board)
    }

    /// Whether this many milliseconds have passed since the start of the lesson.
    #[must_use]
    pub fn is_past(&self, milliseconds: u32) -> bool {
        self.at() >= super::milliseconds(milliseconds)
    }

    /// Waits for the board's first turn.
    pub(super) fn begin(&self) {
        self.turns.spend(self.board, StdDuration::ZERO);
    }

    /// Takes the board out when the guard is dropped, also by a panic.
    pub(super) fn leave_at_the_end(&self) -> impl Drop + use<> {
        struct Gone(Clock);
        impl Drop for Gone {
            fn drop(&mut self) {
                self.0.turns.leave(self.0.board);
            }
        }
        Gone(self.clone())
    }
}

/// The board's tick count at this time of the lesson: it starts 0.1 s before its wrap, so that every lesson passes it.
pub(super) fn instant(at: StdDuration) -> Instant {
    let micros = u32::try_from(at.as_micros()).unwrap_or(u32::MAX);
    Instant::from_ticks(micros.wrapping_sub(100_000))
}
