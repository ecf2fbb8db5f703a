//! Sessions: two own numbers, the opening, and what each heard OPEN means (sections 4 and 5.1 to 5.4 of the wire text). Numberless.

use crate::{
    frame::{Open, ResetCause},
    link::EndReason,
    rules::holds,
};

const LETTER_A: u8 = 101;
const LETTER_B: u8 = 102;
const LETTER_C: u8 = 103;
const LETTER_D: u8 = 104;

/// Whether frames keep their order on the way.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum Order {
    Ordered,
    Unordered,
}

/// Whether the peer's version and agreement fit ours (W-30).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum Fit {
    Fits,
    Differs,
}

/// How long the session has been open.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum Age {
    /// For less than a lifetime: copies of openings may still be under way.
    Young,
    Settled,
}

/// An OPEN to send. Numbers of the session are looked up when it is sent.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum Reply {
    /// Asks, with what is known of the other side.
    Ask,
    /// Does not ask: what stops the exchange (W-35).
    Answer,
    /// Asks the stranger with this own number for the number of the next session, while this one stays (W-29c).
    Challenge(u32),
}

impl Reply {
    /// Whether the OPEN asks.
    pub(crate) fn asks(self) -> bool {
        self != Self::Answer || !holds(35)
    }
}

/// What becomes of the session.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) enum Change {
    /// It stays as it is.
    Stay,
    /// The peer is heard in the session that is open.
    Heard,
    /// A session opens.
    Opens,
    /// It ends; the link is down.
    Ends(EndReason),
    /// It ends and the next one opens at once.
    Renews(EndReason),
}

/// The answer to an OPEN.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) struct Verdict {
    pub(crate) change: Change,
    pub(crate) reply: Option<Reply>,
}

/// One side's state of the session.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(crate) struct Session {
    mine: u32,
    /// The peer's own number; 0 while it is not known.
    theirs: u32,
    known: bool,
    up: bool,
    order: Order,
    numberless: bool,
}

impl Session {
    pub(crate) const fn new(mine: u32, numberless: bool, order: Order) -> Self {
        Self { mine, theirs: 0, known: false, up: false, order, numberless }
    }

    /// A session that both sides have kept over a sleep.
    pub(crate) const fn resumed(mine: u32, theirs: u32, numberless: bool, order: Order) -> Self {
        Self { mine, theirs, known: true, up: true, order, numberless }
    }

    /// The own number and the peer's; 0 while that is not known.
    pub(crate) const fn own_and_theirs(&self) -> (u32, u32) {
        (self.mine, self.theirs)
    }

    pub(crate) const fn is_up(&self) -> bool {
        self.up
    }

    pub(crate) const fn is_numberless(&self) -> bool {
        self.numberless
    }

    pub(crate) const fn mine(&self) -> u32 {
        self.mine
    }

    /// The session number (W-23).
    pub(crate) fn number(&self) -> u32 {
        let theirs = if holds(23) { self.theirs } else { 0 };
        self.mine.wrapping_add(theirs) & 0x3_FFFF
    }

    /// The own number of the next session (W-22); a numberless board on an unordered link keeps 0 for ever (W-36).
    fn next(&self) -> u32 {
        let kept = self.numberless && self.order == Order::Unordered && holds(131);
        if kept || !holds(22) { self.mine } else { self.mine.wrapping_add(1) }
    }

    /// Both numbers in an OPEN to send.
    pub(crate) fn numbers(&self, reply: Reply) -> (u32, Option<u32>) {
        match reply {
            Reply::Challenge(stranger) => (self.next(), Some(stranger)),
            Reply::Ask | Reply::Answer => (self.mine, if self.known { Some(self.theirs) } else { None }),
        }
    }

    /// The peer has this own number.
    fn meet(&mut self, theirs: u32) {
        self.theirs = theirs;
        self.known = true;
    }

    fn knows(&self, theirs: u32) -> bool {
        self.known && self.theirs == theirs
    }

    /// Ends the session (section 5.2).
    pub(crate) fn end(&mut self) {
        self.mine = self.next();
        self.theirs = 0;
        self.known = false;
        self.up = false;
    }

    /// What a heard OPEN means.
    pub(crate) fn hear(&mut self, open: &Open, fit: Fit, age: Age) -> Verdict {
        let fit = if holds(30) { fit } else { Fit::Fits };
        match (self.up, self.order) {
            (false, _) => self.hear_down(open, fit),
            (true, _) if self.is_ours(open) && fit == Fit::Fits => {
                let reply = if holds(28) { answer(open) } else { None };
                Verdict { change: Change::Heard, reply }
            }
            (true, Order::Ordered) if holds(128) => self.hear_up_ordered(open, fit),
            (true, _) => self.hear_up_unordered(open, fit, age),
        }
    }

    fn is_ours(&self, open: &Open) -> bool {
        self.knows(open.mine) && open.echo == Some(self.mine)
    }

    fn hear_down(&mut self, open: &Open, fit: Fit) -> Verdict {
        let ours = open.echo == Some(self.mine) && holds(25);
        let echoed = ours || (!holds(26) && open.echo.is_some()) || !holds(120);
        if !holds(125) && !ours && self.known && self.theirs != open.mine {
            self.mine = self.next();
        }
        self.meet(open.mine);
        if fit == Fit::Differs {
            return Verdict { change: Change::Stay, reply: answer(open) };
        }
        if echoed {
            self.up = true;
            return Verdict { change: Change::Opens, reply: answer(open) };
        }
        Verdict { change: Change::Stay, reply: Some(Reply::Ask) }
    }

    /// Ends the session for the sake of this OPEN; down.
    fn leave(&mut self, open: &Open, fit: Fit) -> Verdict {
        self.end();
        self.meet(open.mine);
        match fit {
            Fit::Differs => Verdict { change: Change::Ends(EndReason::Mismatch), reply: answer(open) },
            Fit::Fits => Verdict { change: Change::Ends(restarted(open.cause)), reply: Some(Reply::Ask) },
        }
    }

    fn hear_up_ordered(&mut self, open: &Open, fit: Fit) -> Verdict {
        if fit == Fit::Fits && !holds(29) {
            return stay(open);
        }
        self.leave(open, fit)
    }

    fn hear_up_unordered(&mut self, open: &Open, fit: Fit, age: Age) -> Verdict {
        if self.knows(open.mine) {
            let restarted = open.numberless && open.echo.is_none() && age == Age::Settled && holds(36);
            return if restarted || !holds(LETTER_A) { self.leave(open, fit) } else { stay(open) };
        }
        if self.numberless && holds(36) {
            return Verdict { change: Change::Stay, reply: None };
        }
        let next = self.next();
        let challenge = Verdict { change: Change::Stay, reply: Some(Reply::Challenge(open.mine)) };
        match open.echo {
            Some(echo) if echo == next && holds(LETTER_B) => self.renew(open, fit),
            Some(echo) if echo != self.mine => {
                if holds(LETTER_D) {
                    stay(open)
                } else {
                    challenge
                }
            }
            _ if holds(LETTER_C) => challenge,
            _ => self.leave(open, fit),
        }
    }

    /// The peer has answered the challenge (W-29b).
    fn renew(&mut self, open: &Open, fit: Fit) -> Verdict {
        if fit == Fit::Differs {
            return self.leave(open, fit);
        }
        self.end();
        self.meet(open.mine);
        self.up = true;
        Verdict { change: Change::Renews(restarted(open.cause)), reply: answer(open) }
    }
}

/// The answer to an OPEN that asks.
fn answer(open: &Open) -> Option<Reply> {
    open.ask.then_some(Reply::Answer)
}

fn stay(open: &Open) -> Verdict {
    Verdict { change: Change::Stay, reply: answer(open) }
}

const fn restarted(cause: ResetCause) -> EndReason {
    EndReason::PeerRestarted(cause)
}

#[cfg(test)]
mod tests;
