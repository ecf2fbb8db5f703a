//! The state of a link: needless calls change nothing, states repeat, and no state is without a wake-up unless it is idle.

#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]

mod common;

use std::hash::{DefaultHasher, Hash, Hasher};

use bellwire::{
    frame::Class,
    framing::Cobs,
    link::{Config, Link, OwnNumber, WakeReason, When},
    time::{Instant, after},
};
use common::{Pair, Who, config, us};

fn hash(link: &impl Hash) -> u64 {
    let mut hasher = DefaultHasher::new();
    link.hash(&mut hasher);
    hasher.finish()
}

#[test]
fn needless_calls_change_nothing() {
    let mut pair = Pair::<_, 2, 4>::at(0);
    for step in 0..400 {
        if step % 40 == 20 {
            let _ = pair.send(Who::Desk, Class::Errand, &[9, step as u8]);
            let _ = pair.send(Who::Dome, Class::Report, &[3]);
        }
        if !pair.step_once() {
            break;
        }
        let now = pair.instant();
        for who in Who::BOTH {
            pair.link(who).handle_timeout(now);
            pair.drain(who);
            let before = pair.links[who as usize].clone();
            let link = pair.link(who);
            assert_eq!(link.handle_octets(now, &[]), 0);
            assert!(link.poll_event().is_none());
            assert!(link.poll_transmit(now, &mut [0; 100]).is_none());
            let wake = link.poll_wake();
            if wake.when != When::Now && wake.when != When::At(now) {
                link.handle_timeout(now);
                assert!(link.poll_event().is_none());
            }
            assert_eq!(*link, before);
            assert_eq!(link.poll_wake(), before.poll_wake());
        }
    }
}

#[test]
fn a_served_link_never_asks_to_be_served_at_once() {
    let mut pair = Pair::<_, 2, 4>::at(u32::MAX - 1_000_000);
    pair.line = Box::new(|at, _| if at % 3 == 1 { vec![] } else { vec![0] });
    for step in 0..2_000 {
        if step % 20 == 10 {
            for (class, payload) in
                [(Class::Errand, [9, 1]), (Class::SetPoint, [7, 1]), (Class::Notice, [5, 1])]
            {
                let _ = pair.send(Who::Desk, class, &payload);
                let _ = pair.send(Who::Dome, class, &payload);
            }
        }
        pair.step_once();
        let now = pair.instant();
        for who in Who::BOTH {
            pair.link(who).handle_timeout(now);
            pair.drain(who);
            let wake = pair.links[who as usize].poll_wake();
            assert!(wake.when != When::Now && wake.when != When::Idle, "{who:?} after step {step}: {wake:?}");
        }
    }
}

#[test]
fn states_repeat_from_one_keep_alive_to_the_next_at_any_time_of_day() {
    let mut pair = Pair::<_, 1, 4>::opened();
    pair.run(1_000_000);
    let first = pair.links.clone();
    pair.run(1_000_000);
    assert_eq!(pair.links, first);
    let mut other = Pair::<_, 1, 4>::at(123_456_789);
    other.run(1_020_000);
    assert_eq!(other.links, first);
    assert_eq!(hash(&other.links[0]), hash(&first[0]));
    // Statistics stand apart.
    assert_ne!(pair.links[0].statistics(), first[0].statistics());
}

#[test]
fn a_link_with_nothing_to_do_is_idle() {
    let mut pair =
        Pair::<_, 1, 4>::new(Cobs, [1, 2].map(|own| Config { keep_alive: us(0), ..config(own) }), 0);
    pair.run(100_000);
    for link in &pair.links {
        assert_eq!((link.poll_wake().when, link.poll_wake().reason), (When::Idle, WakeReason::Nothing));
    }
    let now = pair.instant();
    pair.link(Who::Desk).close(now);
    pair.drain(Who::Desk);
    assert_eq!(pair.links[0].poll_wake().when, When::Idle);
}

#[test]
fn a_clock_that_steps_back_counts_as_no_time() {
    let start = Instant::from_ticks(1_000_000);
    let mut link: Link = Link::new(Cobs, config(7), start);
    let mut out = [0; 80];
    assert!(link.poll_transmit(start, &mut out).is_some());
    let wake = link.poll_wake().when;
    // A late stamp of octets that came in before.
    let _ = link.handle_octets(Instant::from_ticks(999_000), &[0]);
    assert_eq!(link.poll_wake().when, wake);
    // A clock that was set back: deadlines keep their distance from the new time.
    let back = Instant::from_ticks(4_000_000_000);
    link.handle_timeout(back);
    let (When::At(before), When::At(now)) = (wake, link.poll_wake().when) else { panic!() };
    assert_eq!(now.as_ticks().wrapping_sub(back.as_ticks()), before.as_ticks() - start.as_ticks());
    assert!(link.poll_transmit(after(back, us(10)), &mut out).is_none());
}

#[test]
fn a_numberless_board_keeps_quiet_for_two_lifetimes_first() {
    let numberless = Config { own: OwnNumber::Numberless, ..config(0) };
    let mut pair = Pair::<_, 1, 4>::new(Cobs, [config(1_000), numberless], 0);
    assert_eq!(pair.links[1].poll_wake().reason, WakeReason::Hush);
    pair.run(3_000_000);
    let quiet = 2 * (4_096 * 1_000_000_u64).div_ceil(11_520) + 250_000;
    let first = pair.sent.iter().find(|sent| sent.from == Who::Dome).unwrap();
    assert_eq!(first.at, quiet);
    assert!(first.ask && pair.is_up());
    assert!(pair.links[0].peer().unwrap().numberless);
}

#[test]
fn a_closed_numberless_board_stays_silent_after_its_quiet_time() {
    let numberless = Config { own: OwnNumber::Numberless, ..config(0) };
    let mut pair = Pair::<_, 1, 4>::new(Cobs, [config(1_000), numberless], 0);
    let now = pair.instant();
    pair.link(Who::Dome).close(now);
    pair.run(10_000_000);
    assert!(!pair.kinds().iter().any(|(from, _)| *from == Who::Dome), "it is closed");
    let now = pair.instant();
    pair.link(Who::Dome).reopen(now);
    pair.run(2_000_000);
    assert!(pair.is_up());
}

#[test]
fn a_deadline_that_has_passed_is_now() {
    let mut pair = Pair::<_, 1, 4>::opened();
    let When::At(due) = pair.links[0].poll_wake().when else { panic!() };
    let link = pair.link(Who::Desk);
    assert!(link.poll_transmit(due, &mut [0; 100]).is_none(), "not before the time-out is served");
    assert_eq!((link.poll_wake().when, link.poll_wake().reason), (When::Now, WakeReason::KeepAlive));
}

#[test]
fn of_two_that_are_due_together_the_first_is_named() {
    // An errand of 10 octets leaves in 869 µs and times out 50 ms later, when a keep-alive is due too.
    let configs = [1_000, 2_000].map(|own| Config { keep_alive: us(50_869), ..config(own) });
    let mut pair = Pair::<_, 1, 4>::new(Cobs, configs, 0);
    pair.run(20_000);
    pair.line = Box::new(|_, _| vec![]);
    pair.send(Who::Desk, Class::Errand, &[9, 1, 2]).unwrap();
    let wake = pair.links[0].poll_wake();
    assert_eq!((wake.when, wake.reason), (When::At(after(pair.instant(), us(50_869))), WakeReason::Resend));
}

#[test]
fn an_acknowledgement_waits_behind_a_set_point_that_waits_for_the_line() {
    let mut pair = Pair::<_, 1, 4>::opened();
    let now = pair.instant();
    pair.link(Who::Desk).handle_unsent(now, 1_000);
    pair.send(Who::Desk, Class::SetPoint, &[7, 1]).unwrap();
    pair.send(Who::Dome, Class::Errand, &[9, 1]).unwrap();
    pair.run(10_000);
    assert_eq!(pair.got(Who::Desk, Class::Errand), [[9, 1]]);
    let wake = pair.links[0].poll_wake();
    assert!(matches!(wake.when, When::At(_)) && wake.reason == WakeReason::SetPoint, "{wake:?}");
}
