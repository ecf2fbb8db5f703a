mod exhaustive;

use proptest::prelude::*;

use super::*;
use crate::{
    frame::ResetCause,
    link::{EndReason, Event, Peer, Terms},
    time::{Duration, Instant, LONGEST},
};

const LIMIT: u32 = 3;

fn at(ticks: u32) -> Instant {
    Instant::from_ticks(ticks)
}

fn span(ticks: u32) -> Duration {
    Duration::from_ticks(ticks)
}

fn opened() -> Event<'static> {
    Event::Opened(Peer {
        identity: 0,
        fingerprint: 0,
        cause: ResetCause::Unknown,
        numberless: false,
        window: 1,
        max_payload: 48,
        silence: span(0),
        session: 0,
    })
}

fn mismatch() -> Event<'static> {
    let terms = |fingerprint| Terms { version: 1, fingerprint, identity: 0 };
    Event::Mismatch { ours: terms(1), theirs: terms(2) }
}

/// A dead-man that runs on a stop value that arrived at `start`.
fn running(start: u32, limit: u32) -> DeadMan<i8> {
    let mut dead_man = DeadMan::new(0, span(limit), Stop::Brake);
    dead_man.handle_set_point(0, at(start));
    assert_eq!(dead_man.rearm(at(start)), Ok(()));
    dead_man
}

#[test]
fn it_starts_held_and_nothing_but_the_full_act_starts_it() {
    let mut dead_man = DeadMan::new(0_i8, span(LIMIT), Stop::Hold);
    assert_eq!((dead_man.motion(), dead_man.stop()), (Motion::Held(Reason::Boot), Stop::Hold));
    assert_eq!(dead_man.rearm(at(0)), Err(RearmError::NoNews));
    dead_man.handle_event(&opened());
    dead_man.handle_set_point(5, at(1));
    assert_eq!(dead_man.motion(), Motion::MustRearm(Reason::Boot));
    assert_eq!((dead_man.output(at(1)), dead_man.rearm(at(1))), (0, Err(RearmError::NotAtStop)));
    dead_man.handle_set_point(0, at(2));
    assert_eq!((dead_man.output(at(2)), dead_man.motion()), (0, Motion::MustRearm(Reason::Boot)));
    assert_eq!((dead_man.rearm(at(2)), dead_man.motion()), (Ok(()), Motion::Running));
    dead_man.handle_set_point(5, at(3));
    assert_eq!((dead_man.output(at(3)), dead_man.check(at(3))), (5, None));
}

#[test]
fn it_trips_at_the_limit_to_the_tick_anywhere_on_the_clock() {
    for limit in [1, 2, 3, 500_000, LONGEST_LIMIT.as_ticks()] {
        for arrived in [0, 1, 77, u32::MAX / 2, u32::MAX - limit, u32::MAX - 1, u32::MAX] {
            let mut dead_man = running(arrived, limit);
            dead_man.handle_set_point(9, at(arrived));
            assert_eq!(dead_man.poll_wake(), Some(at(arrived.wrapping_add(limit))));
            assert_eq!(dead_man.output(at(arrived.wrapping_add(limit - 1))), 9, "{arrived} + {limit} - 1");
            assert_eq!(dead_man.output(at(arrived.wrapping_add(limit))), 0, "{arrived} + {limit}");
            assert_eq!(dead_man.motion(), Motion::Stale(Reason::NoNews));
            assert_eq!(dead_man.poll_wake(), None);
            assert_eq!(dead_man.check(at(arrived.wrapping_add(limit))), Some(Reason::NoNews));
            assert_eq!(dead_man.check(at(arrived.wrapping_add(limit))), None, "told once");
        }
    }
}

#[test]
fn it_trips_however_late_it_is_asked_up_to_the_longest_span() {
    for limit in [1, 500_000, LONGEST_LIMIT.as_ticks()] {
        for late in [limit, limit + 1, 1 << 30, LONGEST.as_ticks() - 1, LONGEST.as_ticks(), 1 << 31] {
            let mut dead_man = running(u32::MAX - 5, limit);
            assert_eq!(
                dead_man.check(at((u32::MAX - 5).wrapping_add(late))),
                Some(Reason::NoNews),
                "{limit} {late}"
            );
        }
    }
}

#[test]
fn a_limit_of_zero_never_moves_and_one_too_long_is_cut() {
    let mut never = DeadMan::new(0_i8, span(0), Stop::Off);
    never.handle_set_point(0, at(7));
    assert_eq!(never.rearm(at(7)), Err(RearmError::NoNews));
    assert_eq!(DeadMan::new(0_i8, LONGEST, Stop::Off).limit(), LONGEST_LIMIT);
}

#[test]
fn a_stamp_just_after_now_is_fresh() {
    let mut dead_man = running(100, 50);
    dead_man.handle_set_point(4, at(130));
    assert_eq!(dead_man.output(at(120)), 4);
    assert_eq!(dead_man.output(at(179)), 4);
    assert_eq!(dead_man.output(at(180)), 0);
    // A clock that stepped back by more than the limit is no clock to trust.
    let mut dead_man = running(100, 50);
    assert_eq!(dead_man.check(at(49)), Some(Reason::NoNews));
}

#[test]
fn a_set_point_after_a_gap_does_not_hide_the_gap() {
    let mut dead_man = running(0, LIMIT);
    dead_man.handle_set_point(4, at(LIMIT));
    assert_eq!(dead_man.motion(), Motion::MustRearm(Reason::NoNews));
    assert_eq!((dead_man.output(at(LIMIT)), dead_man.check(at(LIMIT))), (0, Some(Reason::NoNews)));
}

#[test]
fn a_set_point_that_waited_past_its_limit_moves_nothing() {
    let mut dead_man = running(0, LIMIT);
    dead_man.handle_set_point(4, at(1));
    assert_eq!(dead_man.output(at(1 + LIMIT)), 0);
}

#[test]
fn the_stop_value_must_be_the_newest_and_fresh_at_the_act() {
    let mut dead_man = DeadMan::new(0_i8, span(LIMIT), Stop::Coast);
    dead_man.handle_set_point(0, at(0));
    dead_man.handle_set_point(6, at(1));
    assert_eq!(dead_man.rearm(at(1)), Err(RearmError::NotAtStop));
    dead_man.handle_set_point(0, at(2));
    assert_eq!(dead_man.rearm(at(2 + LIMIT)), Err(RearmError::NoNews));
    assert_eq!(dead_man.motion(), Motion::Stale(Reason::Boot));
}

#[test]
fn the_end_of_a_session_holds_with_its_reason() {
    for reason in [EndReason::PeerRestarted(ResetCause::Watchdog), EndReason::Silence, EndReason::Closed] {
        let mut dead_man = running(0, LIMIT);
        dead_man.handle_event(&Event::Ended(reason));
        assert_eq!(dead_man.motion(), Motion::Held(Reason::LinkEnded(reason)));
        assert_eq!(dead_man.check(at(0)), Some(Reason::LinkEnded(reason)));
        dead_man.handle_event(&opened());
        dead_man.handle_set_point(3, at(1));
        assert_eq!((dead_man.output(at(1)), dead_man.check(at(1))), (0, None));
        assert_eq!(dead_man.motion(), Motion::MustRearm(Reason::LinkEnded(reason)));
    }
}

#[test]
fn a_mismatch_takes_no_set_point_until_a_matching_peer_opens() {
    let mut dead_man = running(0, LIMIT);
    dead_man.handle_event(&mismatch());
    dead_man.handle_event(&Event::Ended(EndReason::Silence));
    dead_man.hold();
    dead_man.handle_set_point(0, at(1));
    assert_eq!(dead_man.motion(), Motion::Held(Reason::Mismatch));
    assert_eq!(dead_man.rearm(at(1)), Err(RearmError::Mismatch));
    dead_man.handle_event(&opened());
    assert_eq!(dead_man.rearm(at(1)), Err(RearmError::NoNews));
    dead_man.handle_set_point(0, at(2));
    assert_eq!(dead_man.motion(), Motion::MustRearm(Reason::Mismatch));
    assert_eq!(dead_man.rearm(at(2)), Ok(()));
    dead_man.handle_event(&Event::Ended(EndReason::Mismatch));
    assert_eq!(dead_man.motion(), Motion::Held(Reason::Mismatch));
}

#[test]
fn an_operators_stop_holds() {
    let mut dead_man = running(0, LIMIT);
    dead_man.hold();
    assert_eq!((dead_man.motion(), dead_man.output(at(0))), (Motion::Held(Reason::Operator), 0));
    assert_eq!(dead_man.check(at(0)), Some(Reason::Operator));
    dead_man.handle_set_point(5, at(1));
    assert_eq!((dead_man.motion(), dead_man.output(at(1))), (Motion::MustRearm(Reason::Operator), 0));
}

#[test]
fn equal_ages_at_other_times_are_equal_states() {
    let (mut early, mut late) = (running(10, 50), running(u32::MAX, 50));
    assert_eq!(early, late);
    let _ = (early.output(at(20)), late.output(at(9)));
    assert_eq!(early, late);
    let _ = late.output(at(10));
    assert_ne!(early, late);
}

proptest! {
    /// Streams with random gaps, any start of the clock, any limit: at every instant the output is the newest set-point if no gap since the act was as long as the limit.
    #[test]
    fn the_output_is_the_newest_set_point_or_the_stop_value(
        start: u32,
        limit in 1_u32..2_000_000,
        gaps in proptest::collection::vec((0_u32..3_000_000, 1_i32..1000), 1..40),
    ) {
        let mut dead_man = DeadMan::new(0_i32, span(limit), Stop::Brake);
        dead_man.handle_set_point(0, at(start));
        prop_assert_eq!(dead_man.rearm(at(start)), Ok(()));
        let (mut now, mut alive, mut trips) = (start, true, 0);
        for (gap, value) in gaps {
            let was_alive = alive;
            alive &= gap < limit;
            now = now.wrapping_add(gap);
            dead_man.handle_set_point(value, at(now));
            trips += i32::from(dead_man.check(at(now)) == Some(Reason::NoNews));
            prop_assert_eq!(trips, i32::from(!alive), "{} {}", was_alive, gap);
            prop_assert_eq!(dead_man.output(at(now)), if alive { value } else { 0 });
        }
    }
}

#[test]
fn dead_men_that_differ_hash_apart() {
    use std::hash::{DefaultHasher, Hash, Hasher};
    fn hash(dead_man: &DeadMan<i8>) -> u64 {
        let mut hasher = DefaultHasher::new();
        dead_man.hash(&mut hasher);
        hasher.finish()
    }
    let all = [
        DeadMan::new(0, span(3), Stop::Brake),
        DeadMan::new(1, span(3), Stop::Brake),
        DeadMan::new(0, span(4), Stop::Brake),
        DeadMan::new(0, span(3), Stop::Hold),
        running(7, 3),
    ];
    for (place, one) in all.iter().enumerate() {
        for (other_place, other) in all.iter().enumerate() {
            assert_eq!(one == other, place == other_place);
            assert_eq!(hash(one) == hash(other), place == other_place);
        }
    }
    assert_eq!(hash(&running(7, 3)), hash(&running(1_000, 3)), "absolute time does not count");
}

#[cfg(feature = "postcard")]
#[test]
fn only_a_set_point_that_decodes_and_is_picked_is_news() {
    use crate::{
        frame::{Class, MessageNumber},
        link::Message,
    };
    #[derive(serde::Deserialize)]
    enum Wire {
        Lamp(u8),
        Dome(i8),
    }
    let pick = |wire: Wire| match wire {
        Wire::Dome(rate) => Some(rate),
        Wire::Lamp(level) => (level > 100).then_some(1),
    };
    let event = |class, payload: &'static [u8]| {
        let (message, _) = MessageNumber::split(payload).unwrap();
        Event::Message(Message { class, number: 0, message, payload, arrived: at(10), missed: 0 })
    };
    // Postcard writes an i8 as it is: -3 is 0xFD.
    let dome = &[1, 0xFD][..];
    for (class, payload, is_news) in [
        (Class::SetPoint, dome, true),
        (Class::Errand, dome, false),
        (Class::Notice, dome, false),
        (Class::SetPoint, &[0, 5], false),
        (Class::SetPoint, &[1], false),
        (Class::SetPoint, &[2, 5], false),
    ] {
        let mut dead_man = running(10, 3);
        dead_man.handle_typed(&event(class, payload), pick);
        assert_eq!(dead_man.output(at(10)), if is_news { -3 } else { 0 }, "{class:?} {payload:?}");
    }
    let mut dead_man = running(10, 3);
    dead_man.handle_typed(&Event::Ended(EndReason::Silence), pick);
    assert_eq!(dead_man.output(at(10)), 0);
    assert!(matches!(
        dead_man.motion(),
        Motion::Held(Reason::LinkEnded(EndReason::Silence)) | Motion::MustRearm(_)
    ));
}
