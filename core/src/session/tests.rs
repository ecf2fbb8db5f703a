//! Every row of the state table, for one side.

use super::*;
use crate::frame::WIRE_VERSION;

const MINE: u32 = 100;
const THEIRS: u32 = 7;
const CHANGED: u32 = 50;

fn open(mine: u32, echo: Option<u32>, ask: bool) -> Open {
    Open {
        version: WIRE_VERSION,
        ask,
        numberless: false,
        cause: ResetCause::Watchdog,
        mine,
        echo,
        window: 1,
        max_payload: 48,
        fingerprint: 0,
        silence: 0,
        identity: 0,
    }
}

fn up(order: Order) -> Session {
    let mut session = Session::new(MINE, false, order);
    session.hear(&open(THEIRS, Some(MINE), false), Fit::Fits, Age::Young);
    assert!(session.is_up());
    session
}

/// What a heard OPEN changes, and the OPEN that answers it: both numbers and whether it asks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Heard {
    change: Change,
    reply: Option<(u32, Option<u32>, bool)>,
}

fn hear(session: &mut Session, open: &Open, fit: Fit, age: Age) -> Heard {
    let Verdict { change, reply } = session.hear(open, fit, age);
    let numbers = |reply: Reply| {
        let (mine, echo) = session.numbers(reply);
        (mine, echo, reply.asks())
    };
    Heard { change, reply: reply.map(numbers) }
}

fn reply(mine: u32, echo: u32, ask: bool) -> Option<(u32, Option<u32>, bool)> {
    Some((mine, Some(echo), ask))
}

/// Own number, theirs, up.
fn state(session: &Session) -> (u32, Option<u32>, bool) {
    (session.mine, session.known.then_some(session.theirs), session.up)
}

const LEFT: EndReason = EndReason::PeerRestarted(ResetCause::Watchdog);

#[test]
fn down_every_row_of_the_table() {
    for order in [Order::Ordered, Order::Unordered] {
        for known in [None, Some(THEIRS), Some(CHANGED)] {
            for ask in [false, true] {
                let mut fresh = Session::new(MINE, false, order);
                if let Some(theirs) = known {
                    fresh.meet(theirs);
                }
                // W-25.
                let mut session = fresh;
                let verdict = hear(&mut session, &open(THEIRS, Some(MINE), ask), Fit::Fits, Age::Settled);
                assert_eq!(verdict.change, Change::Opens);
                assert_eq!(verdict.reply, if ask { reply(MINE, THEIRS, false) } else { None });
                assert_eq!(state(&session), (MINE, Some(THEIRS), true));
                // W-26.
                for echo in [None, Some(MINE - 1), Some(MINE + 1)] {
                    let mut session = fresh;
                    let verdict = hear(&mut session, &open(THEIRS, echo, ask), Fit::Fits, Age::Settled);
                    assert_eq!(verdict, Heard { change: Change::Stay, reply: reply(MINE, THEIRS, true) });
                    assert_eq!(state(&session), (MINE, Some(THEIRS), false), "mine does not change");
                }
                // W-30.
                let mut session = fresh;
                let verdict = hear(&mut session, &open(THEIRS, Some(MINE), ask), Fit::Differs, Age::Settled);
                assert_eq!(verdict.change, Change::Stay);
                assert_eq!(verdict.reply, if ask { reply(MINE, THEIRS, false) } else { None });
                assert!(!session.is_up());
            }
        }
    }
}

#[test]
fn up_on_an_ordered_link_every_row_of_the_table() {
    for ask in [false, true] {
        // W-28.
        let mut session = up(Order::Ordered);
        let verdict = hear(&mut session, &open(THEIRS, Some(MINE), ask), Fit::Fits, Age::Young);
        let answer = if ask { reply(MINE, THEIRS, false) } else { None };
        assert_eq!(verdict, Heard { change: Change::Heard, reply: answer });
        // W-29.
        for (theirs, echo) in [
            (THEIRS, None),
            (THEIRS, Some(MINE + 1)),
            (CHANGED, None),
            (CHANGED, Some(MINE)),
            (CHANGED, Some(MINE + 1)),
        ] {
            let mut session = up(Order::Ordered);
            let verdict = hear(&mut session, &open(theirs, echo, ask), Fit::Fits, Age::Young);
            assert_eq!(verdict, Heard { change: Change::Ends(LEFT), reply: reply(MINE + 1, theirs, true) });
            assert_eq!(state(&session), (MINE + 1, Some(theirs), false));
        }
        // W-30: end first.
        let mut session = up(Order::Ordered);
        let verdict = hear(&mut session, &open(CHANGED, None, ask), Fit::Differs, Age::Young);
        assert_eq!(verdict.change, Change::Ends(EndReason::Mismatch));
        assert_eq!(verdict.reply, if ask { reply(MINE + 1, CHANGED, false) } else { None });
    }
}

#[test]
fn up_on_an_unordered_link_every_row_of_the_table() {
    for (ask, age) in [(false, Age::Young), (true, Age::Young), (false, Age::Settled), (true, Age::Settled)] {
        let answer = if ask { reply(MINE, THEIRS, false) } else { None };
        let outcome = |theirs, echo, fit| {
            let mut session = up(Order::Unordered);
            (hear(&mut session, &open(theirs, echo, ask), fit, age), state(&session))
        };
        let stays = (MINE, Some(THEIRS), true);
        // W-28, W-29a.
        assert_eq!(
            outcome(THEIRS, Some(MINE), Fit::Fits),
            (Heard { change: Change::Heard, reply: answer }, stays)
        );
        for echo in [None, Some(MINE - 1), Some(MINE + 1)] {
            assert_eq!(
                outcome(THEIRS, echo, Fit::Fits),
                (Heard { change: Change::Stay, reply: answer }, stays)
            );
        }
        // W-29b: the answer to the challenge.
        let renews = Heard {
            change: Change::Renews(LEFT),
            reply: if ask { reply(MINE + 1, CHANGED, false) } else { None },
        };
        assert_eq!(outcome(CHANGED, Some(MINE + 1), Fit::Fits), (renews, (MINE + 1, Some(CHANGED), true)));
        // W-29c: the challenge, also if the agreement differs.
        let challenge = Heard { change: Change::Stay, reply: reply(MINE + 1, CHANGED, true) };
        for (echo, fit) in [(None, Fit::Fits), (Some(MINE), Fit::Fits), (None, Fit::Differs)] {
            assert_eq!(outcome(CHANGED, echo, fit), (challenge, stays));
        }
        // W-29d.
        for echo in [MINE - 1, MINE + 2] {
            let verdict = Heard { change: Change::Stay, reply: answer };
            assert_eq!(outcome(CHANGED, Some(echo), Fit::Fits), (verdict, stays));
        }
        // W-30.
        let (verdict, after) = outcome(CHANGED, Some(MINE + 1), Fit::Differs);
        assert_eq!(verdict.change, Change::Ends(EndReason::Mismatch));
        assert_eq!(after, (MINE + 1, Some(CHANGED), false));
    }
}

#[test]
fn a_numberless_peer_restarts_only_once_the_session_has_settled() {
    for (age, ends) in [(Age::Young, false), (Age::Settled, true)] {
        let mut session = Session::new(MINE, false, Order::Unordered);
        let of_peer = |echo, ask| Open { numberless: true, ..open(0, echo, ask) };
        hear(&mut session, &of_peer(Some(MINE), false), Fit::Fits, Age::Young);
        let verdict = hear(&mut session, &of_peer(None, true), Fit::Fits, age);
        assert_eq!(matches!(verdict.change, Change::Ends(_)), ends);
        assert_eq!(session.is_up(), !ends);
    }
}

#[test]
fn a_numberless_board_on_an_unordered_link_keeps_its_number_and_ignores_strangers() {
    let mut session = Session::new(0, true, Order::Unordered);
    hear(&mut session, &open(THEIRS, Some(0), false), Fit::Fits, Age::Young);
    for echo in [None, Some(0), Some(1), Some(5)] {
        let verdict = hear(&mut session, &open(CHANGED, echo, true), Fit::Fits, Age::Settled);
        assert_eq!(verdict, Heard { change: Change::Stay, reply: None });
    }
    session.end();
    assert_eq!(state(&session), (0, None, false));
    let mut wired = Session::new(0, true, Order::Ordered);
    wired.end();
    assert_eq!(wired.mine(), 1);
}

#[test]
fn the_session_number_is_the_sum_of_both_numbers_modulo_2_to_18() {
    for (mine, theirs) in
        [(1, 2), (u32::MAX, 1), (0x3_FFFF, 1), (0x8000_0000, 0x8000_0005), (0x1234_5678, 0x9ABC_DEF0)]
    {
        let number = |mine, theirs| {
            let mut session = Session::new(mine, false, Order::Ordered);
            session.meet(theirs);
            session.number()
        };
        assert_eq!(u64::from(number(mine, theirs)), (u64::from(mine) + u64::from(theirs)) % (1 << 18));
        assert_eq!(number(mine, theirs), number(theirs, mine), "the same on both sides");
    }
}
