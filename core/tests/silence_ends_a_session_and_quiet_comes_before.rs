//! W-31, W-33, W-34: keep-alive, quiet, resumed, the end by silence, and the opening after it.

mod common;

use bellwire::{
    frame::{Class, Kind},
    framing::Cobs,
    link::{Config, EndReason, Outcome, SendError, State},
};
use common::{Pair, Told, Who, config, us};

#[test]
fn an_idle_link_stays_up_on_one_acknowledgement_a_period_each_way() {
    let mut pair = Pair::<_, 1, 4>::opened();
    pair.run(10_000_000);
    assert!(pair.is_up());
    for who in Who::BOTH {
        assert_eq!(pair.told(who), []);
        let times: Vec<u64> = pair.sent.iter().filter(|sent| sent.from == who).map(|sent| sent.at).collect();
        assert!(times.windows(2).all(|pair| pair[1] - pair[0] == 1_000_000), "{times:?}");
        assert!(pair.sent.iter().all(|sent| sent.kind == Kind::Ack && sent.wire.len() == 7));
    }
    assert_eq!(pair.sent.len(), 20);
}

#[test]
fn anything_sent_saves_the_keep_alive() {
    let mut pair = Pair::<_, 1, 4>::opened();
    for _ in 0..20 {
        pair.send(Who::Desk, Class::Notice, &[5, 1]).unwrap();
        pair.run(900_000);
    }
    assert!(pair.sent.iter().filter(|sent| sent.from == Who::Desk).all(|sent| sent.kind == Kind::Notice));
}

#[test]
fn a_cut_wire_is_quiet_after_one_and_a_half_periods_and_down_after_three() {
    let mut pair = Pair::<_, 1, 4>::opened();
    pair.run(1_500_000);
    let heard = pair.sent.iter().filter(|sent| sent.from == Who::Dome).map(|sent| sent.at).max().unwrap();
    pair.forget();
    pair.line = Box::new(|_, _| vec![]);
    pair.send(Who::Desk, Class::Errand, &[9]).unwrap();
    pair.send(Who::Desk, Class::Errand, &[10]).unwrap();
    pair.run(10_000_000);
    let told = &pair.told[Who::Desk as usize];
    let at = |wanted: &Told| told.iter().find(|(_, told)| told == wanted).map(|(at, _)| *at).unwrap();
    let frame = 7 * 1_000_000 / 11_520 + 1;
    assert!(at(&Told::Quiet).abs_diff(heard + frame + 1_500_000) <= 1);
    let time_out = pair.links[0].round_trip().time_out;
    let ended = at(&Told::Ended(EndReason::Silence));
    assert!(
        ended > heard + 3_000_000 && ended < heard + 3_100_000 + u64::from(time_out.as_ticks()),
        "{ended}"
    );
    let outcomes = pair.outcomes(Who::Desk);
    assert_eq!(outcomes, [(0, Outcome::Unknown), (1, Outcome::NotSent(EndReason::Silence))]);
    let order: Vec<_> =
        pair.told(Who::Desk).into_iter().filter(|told| !matches!(told, Told::Resent(..))).collect();
    assert_eq!(*order.last().unwrap(), Told::Ended(EndReason::Silence), "outcomes come before the end");
    assert_eq!(pair.links[0].state(), State::Down);
    assert_eq!(pair.send(Who::Desk, Class::Errand, &[9]), Err(SendError::NotOpen));

    pair.forget();
    pair.line = common::perfect();
    pair.run(2_000_000);
    assert!(pair.is_up());
    assert_eq!(
        pair.links.each_ref().map(|link| link.own_number()),
        [1_001, 2_001],
        "each end renews its number (W-22)"
    );
}

#[test]
fn a_pause_that_is_shorter_ends_in_resumed() {
    let mut pair = Pair::<_, 1, 4>::opened();
    let start = pair.sent.len();
    pair.line = Box::new(move |at, _| if at - start < 4 { vec![] } else { vec![0] });
    pair.run(6_000_000);
    assert_eq!(pair.told(Who::Desk), [Told::Quiet, Told::Resumed]);
    assert!(pair.is_up());
}

#[test]
fn three_lost_keep_alives_in_a_row_are_survived_at_any_time_out() {
    // T_dead is three periods and the time-out: the third loss is followed by a fourth keep-alive too late.
    let mut pair = Pair::<_, 1, 4>::opened();
    pair.line = Box::new(|at, _| if at % 6 < 4 { vec![] } else { vec![0] });
    pair.run(60_000_000);
    assert!(!pair.told.iter().flatten().any(|(_, told)| matches!(told, Told::Ended(_))), "{:?}", pair.told);
}

#[test]
fn a_peer_without_keep_alive_promises_nothing_and_is_never_called_dead() {
    let sleeper = Config { keep_alive: us(0), ..config(2_000) };
    let mut pair = Pair::<_, 1, 4>::new(Cobs, [config(1_000), sleeper], 0);
    pair.run(3_600_000_000);
    assert_eq!(pair.links[0].state(), State::Up);
    assert_eq!(pair.told(Who::Desk).len(), 1, "opened, and no more");
    assert!(pair.sent.iter().skip(6).all(|sent| sent.from == Who::Desk));
}

#[test]
fn a_closed_link_is_silent_until_it_is_opened_again() {
    let mut pair = Pair::<_, 1, 4>::opened();
    let now = pair.instant();
    pair.send(Who::Desk, Class::Errand, &[9]).unwrap();
    pair.link(Who::Desk).close(now);
    pair.drain(Who::Desk);
    assert_eq!(
        pair.told(Who::Desk),
        [Told::Outcome(bellwire_ticket(&mut pair), Outcome::Unknown), Told::Ended(EndReason::Closed)]
    );
    pair.forget();
    pair.run(20_000_000);
    assert!(pair.sent.iter().all(|sent| sent.from == Who::Dome));
    assert_eq!(pair.links[1].state(), State::Down);
    let now = pair.instant();
    pair.link(Who::Desk).reopen(now);
    pair.run(2_000_000);
    assert!(pair.is_up());
}

/// The ticket of the first item.
fn bellwire_ticket(pair: &mut Pair<Cobs, 1, 4>) -> bellwire::link::Ticket {
    let told = pair.told(Who::Desk);
    let Some(Told::Outcome(ticket, _)) = told.first() else { panic!("{told:?}") };
    assert_eq!(ticket.get(), 0);
    *ticket
}
