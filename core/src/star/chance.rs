//! Who may talk on a radio: by *chance* (W-59). A random wait, a look whether the air is free, bounded resends, and an account of airtime.

use super::{Access, Airtime, Allowance, May};
use crate::{retry::Dice, rules::holds, time::Duration};

/// How a sender takes its chance.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Rules {
    /// The longest random wait before a first try; zero: none. Several frame times, or boards that were switched on together collide for long.
    pub wait: Duration,
    /// How often the wait may double when the air is busy, or for a resend.
    pub doublings: u8,
    /// Looks at a busy air before it is told as [`Deferred::Busy`].
    pub looks: u8,
    /// Resends in any minute, for all messages together.
    pub resends: u8,
    /// The airtime allowance.
    pub allowance: Allowance,
    /// Seed of the random wait, 0 for none.
    pub seed: u32,
}

/// Why a frame has to wait for longer than a random wait.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Deferred {
    /// The airtime of the window is used up.
    Airtime,
    /// The resends of the minute are used up.
    Resends,
    /// The air was busy at every look.
    Busy,
}

impl Deferred {
    /// The reason in plain words.
    #[must_use]
    pub const fn reason(self) -> &'static str {
        match self {
            Self::Airtime => "the airtime of the window is used up",
            Self::Resends => "the resends of the minute are used up",
            Self::Busy => "the air was busy at every look",
        }
    }
}

/// What to do now.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Step {
    /// Nothing is wanted.
    Idle,
    /// Nothing before so long.
    Wait(Duration),
    /// Look whether the air is free, then call [`Chance::looked`]. A radio that cannot look says that it is free.
    Look,
    /// Send the frame, then call [`Chance::sent`].
    Send,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
enum Phase {
    Idle,
    Waiting,
    Clear,
}

/// One minute, µs: the span of the resend budget.
const MINUTE: Duration = Duration::from_ticks(60_000_000);

/// One sender on a shared radio. `SLICES`: see [`Airtime`].
///
/// # Grammar
/// [`want`](Self::want) to send a frame; [`elapse`](Self::elapse) time; do what [`poll`](Self::poll) says, until it said [`Step::Send`] and
/// [`sent`](Self::sent) was called. [`poll_deferred`](Self::poll_deferred) tells once why a frame waits longer. A sender deals with one frame at a time.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Chance<const SLICES: usize> {
    rules: Rules,
    dice: Dice,
    phase: Phase,
    /// Of the frame that is wanted.
    airtime: Duration,
    left: u32,
    doublings: u8,
    looks: u8,
    account: Airtime<SLICES>,
    /// Resends, counted in the same way as airtime: one tick each, six slices of ten seconds.
    resends: Airtime<6>,
    deferred: Option<Deferred>,
}

impl<const SLICES: usize> Chance<SLICES> {
    /// Nothing wanted yet.
    #[must_use]
    pub fn new(rules: Rules) -> Self {
        let slice = Duration::from_ticks(MINUTE.as_ticks() / 6);
        Self {
            rules,
            dice: Dice::new(rules.seed),
            phase: Phase::Idle,
            airtime: Duration::from_ticks(0),
            left: 0,
            doublings: 0,
            looks: 0,
            account: Airtime::new(rules.allowance),
            resends: Airtime::new(Allowance { airtime: rules.resends.into(), slice }),
            deferred: None,
        }
    }

    /// The account of airtime.
    #[must_use]
    pub const fn account(&self) -> &Airtime<SLICES> {
        &self.account
    }

    /// Wants to send a frame that takes `airtime`, for the time number `try_number` (0: the first). Gives whether that can ever be: `false` if it is
    /// longer than the whole allowance, or a resend where none is allowed. A frame that was wanted before is forgotten.
    pub fn want(&mut self, airtime: Duration, try_number: u8) -> bool {
        self.phase = Phase::Idle;
        let resend = Duration::from_ticks(u32::from(try_number > 0));
        let (Some(for_air), Some(for_budget)) =
            (self.account.wait_for(airtime), self.resends.wait_for(resend))
        else {
            return false;
        };
        (self.phase, self.airtime) = (Phase::Waiting, airtime);
        (self.doublings, self.looks) = (try_number.min(self.rules.doublings), 0);
        if for_air.as_ticks() > 0 {
            self.deferred = Some(Deferred::Airtime);
        } else if for_budget.as_ticks() > 0 {
            self.deferred = Some(Deferred::Resends);
        }
        let random = self.random_wait();
        let for_air = if holds(59) { for_air } else { Duration::from_ticks(0) };
        self.left = for_air.max(for_budget).as_ticks().saturating_add(random);
        if try_number > 0 {
            // Booked now, so that frames that wait for their turn are counted too.
            self.resends.charge(resend);
        }
        true
    }

    /// Up to the longest wait, doubled as often as it was.
    fn random_wait(&mut self) -> u32 {
        let most = self
            .rules
            .wait
            .as_ticks()
            .saturating_mul(1_u32.checked_shl(self.doublings.into()).unwrap_or(u32::MAX));
        // The dice have 256 faces; a second throw fills the gaps between them.
        let coarse = self.dice.share(Duration::from_ticks(most), 255).as_ticks();
        let fine = self.dice.share(Duration::from_ticks(most >> 8), 255).as_ticks();
        coarse.saturating_add(fine)
    }

    /// Wants nothing any more.
    pub const fn forget(&mut self) {
        self.phase = Phase::Idle;
    }

    /// Time passes.
    pub fn elapse(&mut self, span: Duration) {
        self.account.elapse(span);
        self.resends.elapse(span);
        self.left = self.left.saturating_sub(span.as_ticks());
    }

    /// What to do now.
    #[must_use]
    pub const fn poll(&self) -> Step {
        match self.phase {
            Phase::Idle => Step::Idle,
            Phase::Waiting if self.left > 0 => Step::Wait(Duration::from_ticks(self.left)),
            Phase::Waiting => Step::Look,
            Phase::Clear => Step::Send,
        }
    }

    /// The air was looked at.
    pub fn looked(&mut self, free: bool) {
        if self.phase != Phase::Waiting {
            return;
        }
        if free {
            self.phase = Phase::Clear;
            return;
        }
        self.looks = self.looks.saturating_add(1);
        if self.looks == self.rules.looks {
            self.deferred = Some(Deferred::Busy);
        }
        self.doublings = self.doublings.saturating_add(1).min(self.rules.doublings);
        self.left = self.random_wait().max(1);
    }

    /// The frame is on its way.
    pub fn sent(&mut self) {
        self.account.charge(self.airtime);
        self.phase = Phase::Idle;
    }

    /// Why the frame waits longer than a random wait, told once.
    pub const fn poll_deferred(&mut self) -> Option<Deferred> {
        self.deferred.take()
    }
}

impl<const SLICES: usize> Access for Chance<SLICES> {
    fn may_send(&self) -> May {
        match self.poll() {
            Step::Send => May::Now,
            Step::Wait(left) => May::In(left),
            Step::Look => May::Look,
            Step::Idle => May::No,
        }
    }

    fn elapse(&mut self, span: Duration) {
        Self::elapse(self, span);
    }

    /// As a first try: who knows that it is a resend calls [`Chance::want`].
    fn wanted(&mut self, airtime: Duration) -> bool {
        self.want(airtime, 0)
    }

    fn looked(&mut self, free: bool) {
        Self::looked(self, free);
    }

    fn sent(&mut self) {
        Self::sent(self);
    }
}

#[cfg(test)]
mod tests;
