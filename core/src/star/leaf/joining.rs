//! How a leaf comes to its address (W-60).

use super::config::{Address, LeafConfig};
use crate::{
    link::apart::Apart,
    retry::{Dice, Policy, Retry},
    star::{Answer, Join, Welcome},
    time::Duration,
};

/// A leaf that the hub has taken, but with whom it opens no session for so many times T_open, asks whether it was forgotten.
const PATIENCE: u32 = 8;

/// A span that never ends.
const OFF: u32 = u32::MAX;

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum Stage {
    Asking,
    Seated(u8),
    /// It has this address, and asks whether that is so still: a session goes on with a hub that was restarted.
    Doubting(u8),
    /// It cannot ask.
    Impossible,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(super) struct Joining {
    join: Join,
    how: Address,
    stage: Stage,
    /// A JOIN is to be sent.
    owed: bool,
    /// The link is to end its session, because the address is another now; then that end is awaited.
    moved: bool,
    /// The program has closed the leaf.
    closed: bool,
    /// What is to be told; and the last refusal, which is told once.
    news: Option<Answer>,
    refusal: Option<Answer>,
    retry: Retry,
    /// µs.
    t_open: u32,
    policy: Policy,
    /// µs without a session.
    patience: u32,
    dice: Apart<Dice>,
}

/// Boards that start together must not ask together: the identity is a part of the seed, spread over its bits by a multiplication (Knuth, The Art of Computer Programming,
/// 6.4). No seed, no random part.
const fn seed(jitter: u32, identity: u64) -> u32 {
    let [a, b, c, d, e, f, g, h] = identity.to_le_bytes();
    let mixed = jitter ^ u32::from_le_bytes([a, b, c, d]) ^ u32::from_le_bytes([e, f, g, h]).rotate_left(16);
    let mixed = mixed.wrapping_mul(0x9E37_79B1);
    match (jitter, mixed) {
        (0, _) => 0,
        (_, 0) => 1,
        _ => mixed,
    }
}

impl Joining {
    /// Asking is repeated like the opening of a link.
    pub(super) fn new(config: &LeafConfig, (t_open, policy): (Duration, Policy)) -> Self {
        let identity = config.link.identity;
        let mut dice = Dice::new(seed(config.link.jitter_seed, identity));
        let (wanted, stage) = match config.address {
            Address::Known(own @ 1..=250) => (own, Stage::Seated(own)),
            Address::Wanted(own @ 1..=250) if identity != 0 => (own, Stage::Asking),
            Address::Asked if identity != 0 => (0, Stage::Asking),
            _ => (0, Stage::Impossible),
        };
        Self {
            join: Join { identity, wanted, awake: config.awake },
            how: config.address,
            stage,
            owed: stage == Stage::Asking,
            moved: false,
            closed: false,
            news: (stage == Stage::Impossible).then_some(Answer::Impossible),
            refusal: None,
            retry: Retry::spread(t_open, &policy, &mut dice),
            t_open: t_open.as_ticks(),
            policy,
            patience: OFF,
            dice: Apart(dice),
        }
    }

    /// It has this address from before a sleep; `None` if its program has set another.
    pub(super) fn resume(&mut self, own: u8) -> Option<()> {
        let set = match self.how {
            Address::Known(set) | Address::Wanted(set) => set,
            Address::Asked => own,
        };
        if set != own || !(1..=250).contains(&own) || self.stage == Stage::Impossible {
            return None;
        }
        self.stage = Stage::Seated(own);
        self.owed = false;
        Some(())
    }

    /// Its address, if the hub is not being asked whether it holds.
    pub(super) const fn seat(&self) -> Option<u8> {
        if let Stage::Seated(own) = self.stage { Some(own) } else { None }
    }

    const fn longest(&self) -> u32 {
        let longest = self.t_open.saturating_mul(PATIENCE);
        if longest == OFF { OFF - 1 } else { longest }
    }

    /// Its address.
    pub(super) const fn address(&self) -> Option<u8> {
        match self.stage {
            Stage::Seated(own) | Stage::Doubting(own) => Some(own),
            Stage::Asking | Stage::Impossible => None,
        }
    }

    /// What became of the asking, to be told.
    pub(super) const fn news(&mut self) -> Option<Answer> {
        self.news.take()
    }

    pub(super) const fn has_news(&self) -> bool {
        self.news.is_some()
    }

    /// Whether a JOIN is to be sent now.
    pub(super) const fn asks(&self) -> bool {
        self.owed && !self.closed
    }

    /// The body of the JOIN.
    pub(super) const fn body(&self) -> [u8; crate::star::JOIN_LEN] {
        self.join.octets()
    }

    /// It is sent now and will have left after `leaving`.
    pub(super) fn sent(&mut self, leaving: Duration) {
        self.owed = false;
        self.retry.sent(leaving);
    }

    /// The hub answers; what is for another board, and what was not asked, changes nothing. Gives whether the address changes although a session is open: it must end.
    pub(super) fn handle(&mut self, welcome: &Welcome) -> bool {
        let had = match self.stage {
            Stage::Asking => None,
            Stage::Doubting(own) => Some(own),
            Stage::Seated(_) | Stage::Impossible => return false,
        };
        let is_wanted = |own| self.join.wanted == 0 || self.join.wanted == own;
        match welcome.answer {
            _ if welcome.identity != self.join.identity => return false,
            Answer::Seated(own) if !is_wanted(own) => return false,
            Answer::Seated(own) => {
                self.stage = Stage::Seated(own);
                self.refusal = None;
                self.patience = if had == Some(own) { OFF } else { self.longest() };
                self.news = (had != Some(own)).then_some(welcome.answer);
            }
            refusal => {
                self.stage = Stage::Asking;
                if self.refusal != Some(refusal) {
                    self.refusal = Some(refusal);
                    self.news = Some(refusal);
                }
                self.retry.slow_down(&self.policy);
                self.retry.sent(Duration::from_ticks(0));
            }
        }
        self.owed = false;
        self.moved = had.is_some() && had != self.address();
        self.moved
    }

    /// A session is open.
    pub(super) const fn opened(&mut self) {
        self.patience = OFF;
    }

    /// A session has ended, by a restart or by silence of the hub, and perhaps another has begun at once. An address that the hub chose may be another leaf's by now.
    pub(super) fn ended(&mut self, is_up: bool) {
        let moved = core::mem::take(&mut self.moved);
        match (self.how, self.stage) {
            (Address::Asked, Stage::Seated(own) | Stage::Doubting(own)) if is_up => {
                self.ask(Stage::Doubting(own));
            }
            (Address::Asked, Stage::Seated(_) | Stage::Doubting(_)) if !moved => self.ask(Stage::Asking),
            (Address::Asked | Address::Wanted(_), Stage::Seated(_)) if !is_up => {
                self.patience = self.longest();
            }
            _ => {}
        }
    }

    fn ask(&mut self, stage: Stage) {
        self.stage = stage;
        self.owed = true;
        self.patience = OFF;
        self.retry = Retry::spread(Duration::from_ticks(self.t_open), &self.policy, &mut self.dice);
    }

    pub(super) const fn close(&mut self) {
        self.closed = true;
    }

    pub(super) fn reopen(&mut self) {
        self.closed = false;
        match self.stage {
            Stage::Asking => self.ask(Stage::Asking),
            Stage::Seated(_) if self.patience != OFF => self.patience = self.longest(),
            _ => {}
        }
    }

    /// Does what is due.
    pub(super) fn expire(&mut self) {
        if self.closed {
            return;
        }
        if self.patience == 0 {
            self.ask(Stage::Asking);
        } else if self.is_asking() && !self.owed && self.retry.left().as_ticks() == 0 {
            let _ = self.retry.expire(&self.policy, &mut self.dice);
            self.owed = true;
        }
    }

    const fn is_asking(&self) -> bool {
        matches!(self.stage, Stage::Asking | Stage::Doubting(_))
    }

    /// µs until something is due.
    pub(super) const fn left(&self) -> Option<u32> {
        match self.stage {
            _ if self.closed => None,
            Stage::Asking | Stage::Doubting(_) => Some(self.retry.left().as_ticks()),
            Stage::Seated(_) if self.patience != OFF => Some(self.patience),
            Stage::Seated(_) | Stage::Impossible => None,
        }
    }

    /// Time passes.
    pub(super) fn elapse(&mut self, span: Duration) {
        self.retry.elapse(span);
        if self.patience != OFF && !self.closed {
            self.patience = self.patience.saturating_sub(span.as_ticks());
        }
    }
}
