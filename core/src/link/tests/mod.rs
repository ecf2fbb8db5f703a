//! The parts of a link by themselves.

mod asleep;
mod flight;
mod news;
mod outbox;
mod plain_data;
mod queue;

use super::{
    Config, Link, OwnNumber, line::Line, measures::Measures, overtaking::Overtaking, receiver::Span,
    set_points::SetPoints,
};
use crate::{
    frame::{MessageNumber, Reject},
    framing::{Cobs, Lead},
    retry::Dice,
    seq::Serial,
    stats::Counter,
    time::{Duration, Instant, elapsed},
};

fn at(ticks: u32) -> Instant {
    Instant::from_ticks(ticks)
}

fn us(ticks: u32) -> Duration {
    Duration::from_ticks(ticks)
}

#[test]
fn the_uptime_counts_whole_milliseconds_and_keeps_the_rest() {
    let mut measures = Measures::new(at(0), us(5_500), Dice::new(0));
    for (now, milliseconds) in [(999, 0), (1_000, 1), (3_500, 3), (3_999, 3), (4_000, 4), (10_001, 10)] {
        let span = elapsed(at(now), measures.last);
        measures.pass(at(now), span);
        assert_eq!(measures.statistics.get(Counter::Uptime), milliseconds, "at {now}");
    }
}

#[test]
fn a_late_stamp_does_not_set_the_clock_back_and_a_clock_that_was_set_does() {
    let config = Config::uart(115_200, OwnNumber::Stored(1));
    let mut link: Link = Link::new(Cobs, config, at(5_000_000));
    link.timers.prompt = 1_000;
    for (now, left, why) in [
        (5_000_010, 990, "time passes"),
        (5_000_004, 990, "a stamp from before"),
        (5_000_012, 988, "no time is counted twice"),
        (4_000_012, 988, "a second back is still a stamp"),
        (5_000_013, 987, "so time went on"),
        (4_000_012, 987, "more than a second is a clock that was set"),
        (4_000_015, 984, "and time goes on from there"),
    ] {
        link.advance(at(now));
        assert_eq!(link.timers.prompt, left, "{now}: {why}");
    }
}

/// W-49: 8 line times of the largest frame at first; SRTT + 4 RTTVAR = 3 R after the first sample R; at first again after a reset.
#[test]
fn the_counters_show_the_round_trip_and_the_time_out() {
    let ceiling = us(1_000_000);
    let mut measures = Measures::new(at(0), us(10_000), Dice::new(0));
    let shown = |measures: &Measures| {
        [Counter::RoundTrip, Counter::TimeOut].map(|counter| measures.statistics.get(counter))
    };
    let first = measures.round_trip(ceiling).time_out;
    assert_eq!(measures.round_trip(ceiling).smoothed, None);
    measures.sample(us(40_000), ceiling);
    assert_eq!(shown(&measures), [40_000, 120_000]);
    assert_eq!(measures.time_out(), us(120_000));
    assert_eq!(measures.round_trip(ceiling).smoothed, Some(us(40_000)));
    measures.reset_estimate(us(10_000), ceiling);
    assert_eq!(shown(&measures), [0, first.as_ticks()]);
    assert_eq!(measures.round_trip(ceiling).smoothed, None);
}

#[test]
fn a_line_is_mixed_by_more_than_it_was_given_and_by_no_less() {
    // A hundred microseconds an octet; ten octets and the grace of two are 1.2 ms.
    let corrected = |unsent| {
        let mut line = Line::new(10_000);
        line.sent(10);
        line.correct(unsent);
        line.lead()
    };
    assert_eq!((corrected(12), corrected(13)), (Lead::BackToBack, Lead::Delimiter));
    // Nothing sent is no frame of ours.
    let mut line = Line::new(10_000);
    line.sent(0);
    assert_eq!((line.lead(), line.busy()), (Lead::Delimiter, us(0)));
    line.correct(2);
    assert_eq!(line.lead(), Lead::BackToBack, "two octets may be what is left of a frame");
    line.correct(3);
    line.sent(0);
    assert_eq!(line.busy(), us(300));
}

#[test]
fn on_an_ordered_line_every_set_point_is_new_and_those_between_are_missed() {
    let mut set_points = SetPoints::default();
    for (number, missed) in [(0, 0), (1, 0), (5, 3), (4, 254), (5, 0), (133, 127), (6, 128), (5, 254)] {
        assert_eq!(set_points.judge(Serial::new(number)), Ok(missed), "number {number}");
    }
}

/// W-45: by kind, and forgotten after a lifetime.
#[test]
fn on_an_unordered_link_a_set_point_is_new_by_kind_for_a_lifetime() {
    let kind = |number| MessageNumber::new(number).unwrap();
    let mut books = Overtaking::default();
    books.lifetime = 100;
    let mut judge = |span: u32, message, number| {
        books.elapse(us(span));
        books.judge(kind(message), Serial::new(number))
    };
    assert_eq!(judge(0, 1, 10), Ok(()));
    assert_eq!(judge(0, 1, 10), Err(Reject::StaleSetPoint));
    assert_eq!(judge(0, 1, 9), Err(Reject::StaleSetPoint));
    assert_eq!(judge(0, 2, 9), Ok(()), "of another kind");
    assert_eq!(judge(50, 1, 11), Ok(()));
    assert_eq!(judge(50, 2, 9), Ok(()), "forgotten after a lifetime");
    assert_eq!(judge(49, 1, 11), Err(Reject::StaleSetPoint), "99 of 100");
    assert_eq!(judge(1, 1, 11), Ok(()));
    for message in 3..9 {
        assert_eq!(judge(0, message, 0), Ok(()));
    }
    assert_eq!(judge(0, 9, 0), Err(Reject::NoRoom), "eight kinds");
    assert_eq!(judge(0, 1, 12), Ok(()));
    assert_eq!(judge(51, 9, 0), Ok(()), "there is room again");
    // One that is forgotten leaves no gap before one that is not.
    let mut books = Overtaking::new(100);
    assert_eq!(books.judge(kind(1), Serial::new(5)), Ok(()));
    books.elapse(us(50));
    assert_eq!(books.judge(kind(2), Serial::new(5)), Ok(()));
    books.elapse(us(50));
    assert_eq!(books.judge(kind(2), Serial::new(5)), Err(Reject::StaleSetPoint));
    // Without a lifetime nothing is remembered.
    let mut books = Overtaking::default();
    assert_eq!(books.judge(kind(1), Serial::new(5)), Ok(()));
    assert_eq!(books.judge(kind(1), Serial::new(5)), Ok(()));
}

#[test]
fn of_those_that_overtook_each_other_none_is_missed_twice() {
    let mut set_points = SetPoints::default();
    for (number, missed) in [(0, 0), (3, 2), (1, 0), (2, 0), (4, 0), (6, 1), (5, 0), (7, 0)] {
        assert_eq!(set_points.missed(Serial::new(number)), missed, "number {number}");
    }
}

#[test]
fn the_end_of_a_piece_is_a_piece() {
    assert_eq!(Span::new(3, 10).after(6), Span::new(9, 4));
    assert_eq!(Span::new(3, 10).after(0), Span::new(3, 10));
    assert!(Span::new(3, 0).is_empty() && !Span::new(0, 1).is_empty());
}
